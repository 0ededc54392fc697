"""Tells the rest of the system which conditions begin and end at a site, as facts."""

from csms.clock import Clock
from csms.power.steering.notices import Notice
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.tasks import Tasks


class Conditions:
    """The notices that hold. `tasks` are those of the owner, who closes them."""

    def __init__(self, database: Database, clock: Clock, tasks: Tasks) -> None:
        self._database = database
        self._clock = clock
        self._tasks = tasks
        self._held: dict[str, frozenset[Notice]] = {}

    def of(self, site_id: str) -> frozenset[Notice]:
        """Those that held at the last look."""
        return self._held.get(site_id, frozenset())

    def forget(self, site_id: str) -> None:
        """The site is not steered any more."""
        self._held.pop(site_id, None)

    def looked(self, site_id: str, notices: frozenset[Notice]) -> None:
        """All that hold now; what begins or is over is told."""
        before = self.of(site_id)
        self._held[site_id] = notices
        if notices != before:
            told = self._tell(site_id, notices - before, before - notices)
            self._tasks.spawn(told, f"notices of {site_id}")

    async def _tell(self, site_id: str, begun: frozenset[Notice], over: frozenset[Notice]) -> None:
        now = self._clock.now()
        facts = [
            Fact(
                topic=f"power.{notice.kind.value}" if notice in begun else f"power_over.{notice.kind.value}",
                at=now,
                site_id=site_id,
                subject=str(notice.evse or notice.circuit or ""),
                body={
                    "station": notice.evse.station_id if notice.evse else None,
                    "evse": notice.evse.evse_id if notice.evse else None,
                    "circuit": notice.circuit,
                    "line": notice.line.value if notice.line else None,
                },
            )
            for notice in sorted(begun | over, key=str)
        ]
        async with self._database.write() as connection:
            await put(connection, *facts)
