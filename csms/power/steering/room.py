"""Room that is really free: what the limits leave above all promises.

A raise may only go into it. Room that somebody has been told to give up is not free until it counts so.
"""

from collections.abc import Iterable, Mapping
from copy import copy

from csms.errors import OurFault
from csms.power.installation import Evse, Line
from csms.power.sharing.currents import MissingLine, Network, Path, level_at
from csms.power.steering.bay import Bay


class Room:
    """The promises of all bays summed up per circuit and line, to be asked and added to."""

    def __init__(
        self,
        network: Network,
        bays: Iterable[Bay],
        base_a: Mapping[str, Mapping[Line, float]],
        now_s: float,
        ahead_s: float,
    ) -> None:
        self._network = network
        self._heads = network.heads(base_a)
        self._counted: dict[Evse, float] = {}
        system = network.installation.system
        loads = []
        for bay in bays:
            counted = self._counted[bay.evse] = bay.promise.counted(now_s, ahead_s)
            if counted:
                loads.append(bay.load(system, counted))
        self._usage = network.usage(loads)

    def under(self, base_a: Mapping[str, Mapping[Line, float]]) -> "Room":
        """The same promises under another base load; from here on the two are apart."""
        other = copy(self)
        other._heads = self._network.heads(base_a)
        other._counted, other._usage = dict(self._counted), list(self._usage)
        return other

    def most_for(self, bay: Bay) -> float:
        """The highest current in A that `bay` may be offered; less than it counts with, down to 0, when there
        is no room."""
        counted = self._counted[bay.evse]
        levels = (
            level_at(self._usage[row] - counted * value, value, self._heads[row])
            for row, value in self._path(bay)
        )
        return max(0.0, min(levels))  # a line of a delta that is over already has no level at all: -inf

    def take(self, bay: Bay, current_a: float) -> None:
        """From now on `bay` counts with at least `current_a`."""
        more = current_a - self._counted[bay.evse]
        if more <= 0:
            return
        self._counted[bay.evse] = current_a
        for row, value in self._path(bay):
            self._usage[row] += more * value

    def _path(self, bay: Bay) -> Path:
        load = bay.load(self._network.installation.system, 0.0)
        path = self._network.path(load.circuit, load.lines, load.connection)
        if isinstance(path, MissingLine):  # an installation refuses such a wiring when it is made
            raise OurFault(f"{bay.evse} is wired to {path.line}, which {path.circuit} has not")
        return path

    def promised_a(self) -> dict[str, dict[Line, float]]:
        """A per circuit and line that all promises make together, without base load."""
        nothing: dict[str, dict[Line, float]] = {c.id: {} for c in self._network.installation.circuits}
        return self._network.line_currents(self._usage, nothing)

    def overfull(self) -> list[tuple[str, Line | None]]:
        """Circuits and lines on which promises and base load do not fit."""
        return [
            self._network.row_name(row)
            for row, (used, head) in enumerate(zip(self._usage, self._heads, strict=True))
            if abs(used) > head + 1e-6 * (1.0 + abs(head)) and abs(used) > 0
        ]
