"""Keeps self-tests, and raises an alarm for one that failed or is overdue."""

from datetime import datetime, timedelta

from csms.alarms.selftests import repository
from csms.alarms.selftests.reading import result_of_text, result_of_variable
from csms.alarms.selftests.result import SelfTest, TestSource, due_at
from csms.alarms.service import AlarmsService
from csms.alarms.signs import Begun, Over, Sign
from csms.clock import Clock
from csms.errors import InvalidInput, NotFound
from csms.stations.events import ComponentsReported, StatusReported
from csms.stations.presence import clean
from csms.store.database import Connection, Database
from csms.store.paging import Page

LOOK_EVERY = timedelta(minutes=10)
OVERDUE = "self_test_overdue"
AHEAD = timedelta(minutes=5)


class SelfTests:
    """Raises NotFound, InvalidInput."""

    def __init__(self, database: Database, clock: Clock, alarms: AlarmsService) -> None:
        self._database = database
        self._clock = clock
        self._alarms = alarms

    async def write(
        self,
        station_id: str,
        *,
        passed: bool,
        at: datetime | None = None,
        evse: int = 0,
        detail: str = "",
        by: str = "",
        source: TestSource = TestSource.PERSON,
    ) -> SelfTest:
        """Keep the result of a test; `at` None: now."""
        now = self._clock.now()
        at = at or now
        if at > now + AHEAD:
            raise InvalidInput("at", "lies in the future; give when the test was done")
        if evse < 0:
            raise InvalidInput("evse", "give the number of an EVSE, or 0 for the whole charger")
        test = SelfTest(
            station_id=station_id,
            evse=evse,
            at=at,
            passed=passed,
            source=source,
            detail=clean(detail),
            written_by=by,
        )

        async def work(connection: Connection) -> None:
            if await repository.kept_since(connection, station_id) is None:
                raise NotFound("station", station_id)
            await repository.add(connection, test)

        await self._database.writer.run(work)
        await self._alarms.apply(_signs(test))
        return test

    async def list(self, station_id: str, *, after: str | None = None, limit: int = 50) -> Page[SelfTest]:
        """What is known of a charger's tests, the latest first."""
        async with self._database.read() as connection:
            if await repository.kept_since(connection, station_id) is None:
                raise NotFound("station", station_id)
            return await repository.list_tests(connection, station_id, after=after, limit=limit)

    async def standing(self, station_id: str) -> tuple[SelfTest | None, datetime]:
        """The last test, and when the next one is due."""
        async with self._database.read() as connection:
            created_at = await repository.kept_since(connection, station_id)
            if created_at is None:
                raise NotFound("station", station_id)
            last = (await repository.list_tests(connection, station_id, after=None, limit=1)).items
        return (last[0], due_at(last[0], created_at)) if last else (None, due_at(None, created_at))

    async def look(self) -> None:
        """Which tests are overdue by now."""
        now = self._clock.now()
        async with self._database.read() as connection:
            latest = await repository.latest_of_all(connection)
        told = await self._alarms.open_things(OVERDUE)
        for station_id, site_id, created_at, last in latest:
            due = due_at(last, created_at)
            if (now >= due) is (station_id in told):
                continue  # as it was at the last look
            sign: Sign = Over(frozenset({OVERDUE}), station_id)
            if now >= due:
                detail = {"last": last.at.isoformat() if last else "never", "due": due.isoformat()}
                sign = Begun(kind=OVERDUE, thing=station_id, station_id=station_id, detail=detail)
            await self._alarms.apply((sign,), site_id=site_id)

    async def watch(self) -> None:
        """Look now and then, for ever."""
        while True:
            await self.look()
            await self._clock.sleep(LOOK_EVERY.total_seconds())

    async def components_told(self, station_id: str, event: ComponentsReported, now: datetime) -> None:
        """Listener: a charger told of its components."""
        for value in event.changes:
            passed = result_of_variable(value.path, value.value)
            if passed is not None:
                await self._told(station_id, passed, event.at or now, f"{value.path} = {value.value}")

    async def status_told(self, station_id: str, event: StatusReported, now: datetime) -> None:
        """Listener: a charger told of a status, with words of its own."""
        text = f"{event.info} {event.vendor_error}"
        passed = result_of_text(text)
        if passed is not None:
            await self._told(station_id, passed, event.at or now, text, event.evse)

    async def _told(self, station_id: str, passed: bool, at: datetime, detail: str, evse: int = 0) -> None:
        at = min(at, self._clock.now())
        source = TestSource.CHARGER
        await self.write(station_id, passed=passed, at=at, evse=evse, detail=detail.strip(), source=source)


def _signs(test: SelfTest) -> tuple[Sign, ...]:
    station = test.station_id
    if test.passed:
        return (Over(frozenset({"self_test_failed", OVERDUE}), station),)
    told = {"at": test.at.isoformat(), "detail": test.detail, "by": test.source.value}
    return (Begun(kind="self_test_failed", thing=station, station_id=station, detail=told),)
