"""What flows on every line of every circuit, and what that does: limits passed, breakers that open.

In the star amperes are added (their upper bound); in the delta phasors are. A breaker that trips is
counted and closed again at once, so that one fault does not hide the next.

Time above a limit is *within the reaction* when the cars' currents would fit with what the building drew
at some moment in the last `window_s` seconds: then only a step of the base load is to blame, and the cars
had no time yet. All other time above is *beyond*.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from tools.simulation.description import Circuit, Description
from tools.simulation.load import Phasors
from tools.simulator.breaker import Breaker

TOLERANCE_A: Final = 0.05
BIN_S: Final = 300.0


@dataclass(slots=True)
class Episode:
    """A line was above its limit for a while; `beyond`: see the head of this file."""

    circuit: str
    line: int
    began_s: float
    seconds: float = 0.0
    ampere_seconds: float = 0.0
    highest_a: float = 0.0
    beyond_s: float = 0.0
    beyond_as: float = 0.0


@dataclass(slots=True)
class LineFlow:
    """One line of one circuit. `base_before`: what the building drew, with until when, newest last."""

    circuit: Circuit
    line: int
    breaker: Breaker
    cars: complex = 0.0
    base: complex = 0.0
    at_s: float = 0.0
    base_before: list[tuple[float, complex]] = field(default_factory=list)
    episode: Episode | None = None
    bins: dict[int, float] = field(default_factory=dict)
    base_bins: dict[int, float] = field(default_factory=dict)


class Grid:
    """All circuits of a description. `window_s`: see the head of this file."""

    def __init__(self, description: Description, window_s: float) -> None:
        self._window_s = window_s
        self._start_s = description.starts_s
        self.episodes: list[Episode] = []
        self.trips: list[tuple[float, str, int]] = []
        self._ways = {c.id: description.way_up(c.id) for c in description.circuits}
        self.lines: dict[tuple[str, int], LineFlow] = {
            (circuit.id, line): LineFlow(
                circuit, line, Breaker(rated_a=circuit.device_a), at_s=description.starts_s
            )
            for circuit in description.circuits
            for line in range(3)
        }

    def cars_changed(self, circuit: str, before: Phasors, after: Phasors, now_s: float) -> None:
        """A bay on `circuit` draws `after` instead of `before`."""
        for line in range(3):
            more = after[line] - before[line]
            if more:
                for at in self._ways[circuit]:
                    flow = self.lines[at, line]
                    self._live(flow, now_s)
                    flow.cars += more

    def base_changed(self, circuit: str, before: Phasors, after: Phasors, now_s: float) -> None:
        """The building draws something else at `circuit`."""
        for line in range(3):
            more = after[line] - before[line]
            if more:
                for at in self._ways[circuit]:
                    flow = self.lines[at, line]
                    self._live(flow, now_s)
                    flow.base_before.append((now_s, flow.base))
                    flow.base += more

    def base_a(self, circuit: str) -> tuple[float, float, float]:
        """What a meter of the building alone reads at `circuit`."""
        return _three(abs(self.lines[circuit, line].base) for line in range(3))

    def total_a(self, circuit: str) -> tuple[float, float, float]:
        """What a meter at `circuit` reads, cars included."""
        flows = [self.lines[circuit, line] for line in range(3)]
        return _three(abs(flow.cars + flow.base) for flow in flows)

    def settle(self, now_s: float) -> None:
        """Write down everything until now."""
        for flow in self.lines.values():
            self._live(flow, now_s)

    def finish(self, now_s: float) -> None:
        """The end: what is above now counts until now."""
        self.settle(now_s)
        for flow in self.lines.values():
            self._close(flow)

    def _live(self, flow: LineFlow, now_s: float) -> None:
        begin_s, passed_s = flow.at_s, now_s - flow.at_s
        if passed_s <= 0:
            return
        current_a = abs(flow.cars + flow.base)
        self._bin(flow, begin_s, now_s, current_a)
        if flow.breaker.step(passed_s, current_a):
            self.trips.append((now_s, flow.circuit.id, flow.line))
            flow.breaker.tripped, flow.breaker.heat = False, 0.0
        over_a = current_a - flow.circuit.limit_a
        if over_a > TOLERANCE_A:
            self._count(flow, begin_s, now_s, current_a)
        elif flow.episode is not None:
            self._close(flow)
        flow.at_s = now_s

    def _count(self, flow: LineFlow, begin_s: float, now_s: float, current_a: float) -> None:
        over_a = current_a - flow.circuit.limit_a
        if flow.episode is None:
            flow.episode = Episode(flow.circuit.id, flow.line, begin_s)
        episode = flow.episode
        episode.seconds += now_s - begin_s
        episode.ampere_seconds += over_a * (now_s - begin_s)
        episode.highest_a = max(episode.highest_a, current_a)
        excused_until_s = self._excused_until(flow)
        beyond_s = max(0.0, now_s - max(begin_s, excused_until_s))
        episode.beyond_s += beyond_s
        episode.beyond_as += over_a * beyond_s

    def _excused_until(self, flow: LineFlow) -> float:
        """Until when the cars' currents of now may still be put down to what the building drew before."""
        newest = -float("inf")
        for until_s, base in reversed(flow.base_before):
            if until_s + self._window_s < flow.at_s:
                break
            if abs(flow.cars + base) <= flow.circuit.limit_a + TOLERANCE_A:
                newest = until_s + self._window_s
                break
        return newest

    def _close(self, flow: LineFlow) -> None:
        if flow.episode is not None:
            self.episodes.append(flow.episode)
            flow.episode = None
        if len(flow.base_before) > 200:
            del flow.base_before[:-100]

    def _bin(self, flow: LineFlow, begin_s: float, now_s: float, current_a: float) -> None:
        base_a = abs(flow.base)
        first, last = int((begin_s - self._start_s) // BIN_S), int((now_s - self._start_s) // BIN_S)
        for number in range(first, last + 1):
            if current_a > flow.bins.get(number, -1.0):
                flow.bins[number] = current_a
            if base_a > flow.base_bins.get(number, -1.0):
                flow.base_bins[number] = base_a


def _three(values: Iterable[float]) -> tuple[float, float, float]:
    first, second, third = values
    return (first, second, third)
