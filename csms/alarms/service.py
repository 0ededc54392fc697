"""Turns what happened into alarms, and lets people list, take on and end them."""

from collections.abc import Awaitable, Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from csms.alarms import repository, turning
from csms.alarms.alarm import STANDING, Alarm, AlarmState
from csms.alarms.crowd import is_crowd
from csms.alarms.deliveries import to_members, wanted
from csms.alarms.kinds import KINDS
from csms.alarms.repository import AlarmFilter
from csms.alarms.rules import signs_of
from csms.alarms.signs import Begun, Over, Sign
from csms.clock import Clock
from csms.errors import InvalidInput
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page

Concerned = Callable[[str, int | None], Awaitable[tuple[str, ...]]]
"""Mail addresses of the members whose cars are at an EVSE of a station."""

TOLD_TO_MEMBERS = frozenset({"over_temperature_stop", "ground_fault"})
"""A car stands there uncharged, and whoever drives it should know."""

LONGEST_NOTE = 1000


async def _nobody(_station_id: str, _evse: int | None) -> tuple[str, ...]:
    return ()


class AlarmsService:
    """Keeps alarms. Raises NotFound, Conflict, InvalidInput.

    `wake` is called when there may be a message to send.
    """

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        concerned: Concerned = _nobody,
        wake: Callable[[], None] = lambda: None,
    ) -> None:
        self._database = database
        self._clock = clock
        self._concerned = concerned
        self._wake = wake

    async def hear(self, number: int, fact: Fact) -> None:
        """Follower of the outbox; a fact that is told twice counts once."""
        if signs := signs_of(fact):
            await self.apply(signs, site_id=fact.site_id, fact=number)

    async def apply(self, signs: Iterable[Sign], *, site_id: str | None = None, fact: int = 0) -> None:
        """Do what `signs` say. `fact`: their number in the outbox, 0 when they have none."""
        now = self._clock.now()
        signs = tuple(signs)
        if not await self._matter(signs):
            return
        addresses = await self._addresses(signs)
        async with self._database.write() as connection:
            for sign in signs:
                if isinstance(sign, Over):
                    await self._end(connection, sign, now, fact)
                else:
                    await self._begin(connection, sign, site_id, now, fact, addresses)
        self._wake()

    async def sweep(self) -> None:
        """What time alone brings about: pending ones become alarms, untaken ones go further up."""
        now = self._clock.now()
        async with self._database.write() as connection:
            for pending in await repository.due_alarms(connection, now):
                raised = turning.due(pending, now)
                if raised is not None:
                    await self._keep(connection, raised, pending.state, now)
                    await self._look_at_crowd(connection, raised, now)
            standing = await repository.standing(connection)
            await self._put_down(connection, standing, now)
        self._wake()

    async def get(self, alarm_id: int) -> Alarm:
        async with self._database.read() as connection:
            return await repository.get_alarm(connection, alarm_id)

    async def list(
        self, wanted: AlarmFilter | None = None, *, after: str | None = None, limit: int = 50
    ) -> Page[Alarm]:
        """The newest first."""
        async with self._database.read() as connection:
            return await repository.list_alarms(connection, wanted or AlarmFilter(), after=after, limit=limit)

    async def open_things(self, kind: str) -> frozenset[str]:
        """What has an alarm of that kind that is not over."""
        async with self._database.read() as connection:
            return frozenset(alarm.thing for alarm in await repository.open_alarms(connection, {kind}))

    async def acknowledge(self, alarm_id: int, *, by: str, note: str = "") -> Alarm:
        """Somebody sees to it: it goes no further up. Conflict when somebody does already, or it is over."""
        if len(note) > LONGEST_NOTE:
            raise InvalidInput("note", f"has {len(note)} characters; at most {LONGEST_NOTE} are kept")
        now = self._clock.now()
        async with self._database.write() as connection:
            alarm = await repository.get_alarm(connection, alarm_id, lock=True)
            taken = turning.acknowledge(alarm, now, by, note)
            await self._keep(connection, taken, alarm.state, now)
        return taken

    async def clear(self, alarm_id: int, *, by: str) -> Alarm:
        """A person says it is over. What still holds will be raised again when it is told again."""
        now = self._clock.now()
        async with self._database.write() as connection:
            alarm = await repository.get_alarm(connection, alarm_id, lock=True)
            ended = turning.end(alarm, now, by)
            assert ended is not None, "a person ends every kind"
            await self._keep(connection, ended, alarm.state, now)
        self._wake()
        return ended

    async def _matter(self, signs: Sequence[Sign]) -> bool:
        """Whether they can change anything. Nearly every status of every charger only says that nothing is
        wrong: that is read, and the one writer is left alone."""
        if not all(isinstance(sign, Over) for sign in signs):
            return True
        async with self._database.read() as connection:
            for sign in signs:
                if isinstance(sign, Over) and await repository.open_alarms(
                    connection, sign.kinds, thing=sign.thing, station_id=sign.station_id
                ):
                    return True
        return False

    async def _addresses(self, signs: Sequence[Sign]) -> tuple[str, ...]:
        for sign in signs:
            if isinstance(sign, Begun) and sign.kind in TOLD_TO_MEMBERS and sign.station_id:
                return await self._concerned(sign.station_id, sign.evse)
        return ()

    async def _begin(
        self,
        connection: Connection,
        sign: Begun,
        site_id: str | None,
        now: datetime,
        fact: int,
        addresses: tuple[str, ...],
    ) -> None:
        if site_id is None and sign.station_id is not None:
            site_id = await repository.site_of_station(connection, sign.station_id)
        last = await repository.latest(connection, sign.kind, sign.thing)
        alarm = turning.begin(last, sign, site_id, fact, now)
        if alarm is None:
            return
        before = last.state if last is not None and alarm.id == last.id and last.id else None
        kept = await self._keep(connection, alarm, before, now)
        if sign.kind in TOLD_TO_MEMBERS and before is None:
            await repository.put_deliveries(connection, to_members(kept, addresses, now))

    async def _end(self, connection: Connection, sign: Over, now: datetime, fact: int) -> None:
        found = await repository.open_alarms(
            connection, sign.kinds, thing=sign.thing, station_id=sign.station_id, lock=True
        )
        for alarm in found:
            # A station that was deleted takes its latched alarms with it as well.
            ended = turning.end(alarm, now, "Phaseyard" if sign.thing is None else "", fact)
            if ended is not None:
                await self._keep(connection, ended, alarm.state, now)
                await self._look_at_crowd(connection, ended, now)

    async def _look_at_crowd(self, connection: Connection, alarm: Alarm, now: datetime) -> None:
        if alarm.kind != "charger_lost" or alarm.site_id is None:
            return
        site_id = alarm.site_id
        lost, total = await repository.lost_share(connection, site_id)
        kind = "many_chargers_lost"
        if is_crowd(lost, total):
            if not await repository.open_alarms(connection, {kind}, thing=site_id):
                detail = {"lost": lost, "of": total}
                sign = Begun(kind=kind, thing=site_id, detail=detail, hold=turning.NO_TIME)
                await self._begin(connection, sign, site_id, now, 0, ())
        else:
            await self._end(connection, Over(frozenset({kind}), site_id), now, 0)

    async def _keep(
        self, connection: Connection, alarm: Alarm, before: AlarmState | None, now: datetime
    ) -> Alarm:
        kept = replace(alarm, id=await repository.keep(connection, alarm))
        if kept.state is before or kept.state in (AlarmState.PENDING, AlarmState.PASSED):
            return kept
        await self._put_down(connection, (kept,), now)
        await put(connection, _fact(kept, now))
        return kept

    async def _put_down(self, connection: Connection, alarms: Sequence[Alarm], now: datetime) -> None:
        """Messages that are due by now and that nobody has put down."""
        if not alarms:
            return
        routes = await repository.active_routes(connection)
        if not routes:
            return
        told = await repository.told(connection, [alarm.id for alarm in alarms])
        made = [each for alarm in alarms for each in wanted(alarm, routes, told[alarm.id], now)]
        await repository.put_deliveries(connection, made)


def _fact(alarm: Alarm, now: datetime) -> Fact:
    verb = "raised" if alarm.state is AlarmState.RAISED else alarm.state.value
    body: dict[str, Any] = {
        "alarm": alarm.id,
        "kind": alarm.kind,
        "title": KINDS[alarm.kind].title,
        "severity": alarm.severity.value,
        "standing": alarm.state in STANDING,
        "station": alarm.station_id,
        "evse": alarm.evse,
        "circuit": alarm.circuit_id,
        "by": alarm.acknowledged_by if alarm.state is AlarmState.ACKNOWLEDGED else alarm.cleared_by,
    }
    return Fact(topic=f"alarm.{verb}", at=now, site_id=alarm.site_id, subject=str(alarm.id), body=body)
