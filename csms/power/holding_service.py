"""Tells sessions when we hold their car, and when no more: a pause by us is not idle time on a bill.

In the order in which it happens for each EVSE, each thing once. After a restart nobody knows what was told
last, so it is told again; to sessions a repetition is nothing new.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Protocol

from csms.clock import Clock
from csms.power.installation import Evse
from csms.power.steering.pauses import holds
from csms.power.steering.picture import BayState, SiteShown
from csms.tasks import Tasks


class Sessions(Protocol):
    """What is told (`csms.sessions.service`); False: no session runs there."""

    async def paused_by_us(self, station_id: str, evse: int, at: datetime) -> bool: ...

    async def resumed(self, station_id: str, evse: int, at: datetime) -> bool: ...


class Holding:
    """Which EVSEs we hold. `tasks` are those of the owner, who closes them."""

    def __init__(self, sessions: Sessions, clock: Clock, tasks: Tasks) -> None:
        self._sessions = sessions
        self._clock = clock
        self._tasks = tasks
        self._held: dict[str, frozenset[Evse]] = {}
        self._told: dict[Evse, bool] = {}
        self._telling: set[Evse] = set()

    def held(self, site_id: str) -> frozenset[Evse]:
        """Those held at the last look."""
        return self._held.get(site_id, frozenset())

    def looked(self, site_id: str, picture: SiteShown) -> None:
        """The site has a new picture. Of a bay that cannot be reached nothing new is known."""
        held = holds(picture)
        gone = {bay.evse for bay in picture.bays if bay.state is BayState.UNREACHABLE}
        self._held[site_id] = held | (self.held(site_id) & gone)
        for bay in picture.bays:
            if bay.state is BayState.EMPTY:
                self._told.pop(bay.evse, None)
            elif bay.evse not in gone:
                self._say(bay.evse, bay.evse in held)

    def let_go(self, site_id: str) -> None:
        """The site is not steered any more."""
        self._say_all(self._held.pop(site_id, frozenset()))

    def _say_all(self, evses: Iterable[Evse]) -> None:
        for evse in evses:
            self._say(evse, False)

    def _say(self, evse: Evse, held: bool) -> None:
        if self._told.get(evse) is held:
            return
        self._told[evse] = held
        if evse not in self._telling:
            self._telling.add(evse)
            self._tasks.spawn(self._tell(evse), f"pause at {evse}")

    async def _tell(self, evse: Evse) -> None:
        said: bool | None = None
        try:
            while (held := self._told.get(evse)) is not None and held is not said:
                say = self._sessions.paused_by_us if held else self._sessions.resumed
                if not await say(evse.station_id, evse.evse_id, self._clock.now()):
                    self._told.pop(evse, None)  # no session is there yet: again at the next look
                    return
                said = held
        except Exception:
            self._told.pop(evse, None)
            raise
        finally:
            self._telling.discard(evse)
