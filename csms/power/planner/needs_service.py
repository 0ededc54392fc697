"""Needs, as the rest of the program holds them."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import timedelta

from csms.access.members.service import MembersService
from csms.clock import Clock
from csms.errors import Conflict, NotFound
from csms.power.planner import repository
from csms.power.planner.need import MemberNeed, Source, Told, check_member, check_told
from csms.power.planner.repository import CarNeed
from csms.sessions.service import SessionsService
from csms.sessions.session import Session
from csms.store.database import Database
from csms.store.outbox import Fact, put

BEFORE_ITS_START = timedelta(minutes=10)
"""A car may tell its need before its transaction begins, but not much before."""


class NeedsService:
    """Keeps needs. `changed` is called with a site's id whenever one there is another."""

    def __init__(
        self, database: Database, clock: Clock, members: MembersService, sessions: SessionsService
    ) -> None:
        self._database = database
        self._clock = clock
        self._members = members
        self._sessions = sessions
        self.changed: Callable[[str], None] = lambda _: None

    async def of_member(self, member_id: str) -> MemberNeed:
        """What every charge of the member needs. Raises NotFound."""
        await self._members.get(member_id)
        async with self._database.read() as connection:
            found = (await repository.get_member_needs(connection, [member_id])).get(member_id)
        if found is None:
            raise NotFound("need of member", member_id)
        return found

    async def set_of_member(self, member_id: str, need: MemberNeed) -> MemberNeed:
        """From now on every charge of the member needs this. Raises NotFound, InvalidInput."""
        member = await self._members.get(member_id)
        need = replace(check_member(need), days=tuple(sorted(need.days)))
        now = self._clock.now()
        async with self._database.write() as connection:
            await repository.put_member_need(connection, self._database.dialect, member_id, need, now)
            await put(connection, self._fact("member", member_id, member.site_id))
        self.changed(member.site_id)
        return need

    async def forget_of_member(self, member_id: str) -> None:
        """Nothing is known of what the member needs. Raises NotFound."""
        member = await self._members.get(member_id)
        async with self._database.write() as connection:
            if not await repository.drop_member_need(connection, member_id):
                raise NotFound("need of member", member_id)
            await put(connection, self._fact("member", member_id, member.site_id))
        self.changed(member.site_id)

    async def of_session(self, session_id: int) -> Told:
        """What a person told for this charge. Raises NotFound."""
        await self._sessions.get(session_id)
        async with self._database.read() as connection:
            found = (await repository.get_session_needs(connection, [session_id])).get(session_id)
        if found is None:
            raise NotFound("need of session", session_id)
        return found

    async def set_of_session(self, session_id: int, told: Told) -> Told:
        """A person tells what this charge needs. Raises NotFound, InvalidInput, Conflict when it is over."""
        session = await self._open(session_id)
        now = self._clock.now()
        told = replace(check_told(told, now), source=Source.PERSON, at_wh=session.energy_wh)
        async with self._database.write() as connection:
            await repository.put_session_need(connection, self._database.dialect, session_id, told, now)
            await put(connection, self._fact("session", str(session_id), session.site_id))
        self._tell(session)
        return told

    async def forget_of_session(self, session_id: int) -> None:
        """Take back what a person told; the car's and the member's need count again. Raises NotFound."""
        session = await self._sessions.get(session_id)
        async with self._database.write() as connection:
            if not await repository.drop_session_need(connection, session_id):
                raise NotFound("need of session", session_id)
            await put(connection, self._fact("session", str(session_id), session.site_id))
        self._tell(session)

    async def car_told(self, need: CarNeed) -> None:
        """Keep what a car told at its EVSE; it is committed when this returns."""
        async with self._database.write() as connection:
            await repository.put_car_need(connection, self._database.dialect, need)

    async def of_sessions(
        self, sessions: Iterable[Session]
    ) -> Mapping[int, tuple[tuple[Told, ...], MemberNeed | None]]:
        """By session: what was told for it, and what its member always needs."""
        sessions = list(sessions)
        members = {s.member_id for s in sessions if s.member_id is not None}
        async with self._database.read() as connection:
            told = await repository.get_session_needs(connection, [s.id for s in sessions])
            usual = await repository.get_member_needs(connection, members)
            cars = await repository.get_car_needs(connection, {s.station_id for s in sessions})
        found: dict[int, tuple[tuple[Told, ...], MemberNeed | None]] = {}
        for session in sessions:
            those = [told[session.id]] if session.id in told else []
            those += [car.told for car in cars if belongs(car, session)]
            found[session.id] = (tuple(those), usual.get(session.member_id or ""))
        return found

    async def _open(self, session_id: int) -> Session:
        session = await self._sessions.get(session_id)
        if not session.open:
            raise Conflict(f"session {session_id} is over; tell the need of one that runs")
        return session

    def _tell(self, session: Session) -> None:
        if session.site_id is not None:
            self.changed(session.site_id)

    def _fact(self, whose: str, subject: str, site_id: str | None) -> Fact:
        body = {"of": whose}
        return Fact(topic="need.changed", at=self._clock.now(), site_id=site_id, subject=subject, body=body)


def belongs(car: CarNeed, session: Session) -> bool:
    """Whether the car that told it is the one of the session."""
    if car.station_id != session.station_id or session.evse not in (None, car.evse):
        return False
    if car.session_id is not None:
        return car.session_id == session.id
    return session.arrived_at - BEFORE_ITS_START <= car.told_at
