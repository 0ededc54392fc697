"""The building's meters: report in their period, and at once on a step; silent while they are told to be."""

from collections.abc import Callable
from typing import Final

from csms.power.steering.base_load import Counts
from tools.simulation.description import Circuit, Description
from tools.simulation.grid import Grid
from tools.simulation.timeline import Timeline

Amps = tuple[float, float, float]
NOTHING: Final[Amps] = (0.0, 0.0, 0.0)


class Meters:
    """`tell(circuit, A per line, measured at, whether it is a step up)` is called when a report arrives."""

    def __init__(
        self,
        description: Description,
        timeline: Timeline,
        grid: Grid,
        tell: Callable[[str, Amps, float, bool], None],
    ) -> None:
        self._description = description
        self._timeline = timeline
        self._grid = grid
        self._tell = tell
        self._metered = [circuit for circuit in description.circuits if circuit.meter is not None]
        self._silent_until_s: dict[str, float] = {}
        self._reported: dict[str, Amps] = {}

    def start(self) -> None:
        for circuit in self._metered:
            self._period(circuit)

    def silence(self, circuit: str, until_s: float) -> None:
        self._silent_until_s[circuit] = until_s

    def base_changed(self, changed: str) -> None:
        """The building's load at circuit `changed` is another."""
        way = self._description.way_up(changed)
        for circuit in self._metered:
            meter = circuit.meter
            if circuit.id not in way or meter is None or meter.on_change_a is None:
                continue
            now, last = self._read(circuit), self._reported.get(circuit.id, NOTHING)
            if any(abs(a - b) > meter.on_change_a for a, b in zip(now, last, strict=True)):
                # Less can wait for the next look: only more must be answered at once.
                self._report(circuit, step=any(a > b for a, b in zip(now, last, strict=True)))

    def _period(self, circuit: Circuit) -> None:
        assert circuit.meter is not None
        self._timeline.after(circuit.meter.period_s, lambda: self._period(circuit))
        self._report(circuit, step=False)

    def _read(self, circuit: Circuit) -> Amps:
        assert circuit.meter is not None
        base = circuit.meter.counts is Counts.BASE
        return self._grid.base_a(circuit.id) if base else self._grid.total_a(circuit.id)

    def _report(self, circuit: Circuit, *, step: bool) -> None:
        assert circuit.meter is not None
        at_s = self._timeline.now_s
        if self._silent_until_s.get(circuit.id, 0.0) > at_s:
            return
        values = self._reported[circuit.id] = self._read(circuit)
        self._timeline.after(circuit.meter.delay_s, lambda: self._tell(circuit.id, values, at_s, step))
