"""Whose car it is."""

from datetime import timedelta

from sqlalchemy import insert, update

from csms.access.members.service import MembersService
from csms.alarms.concerned_service import ConcernedMembers
from csms.clock import ManualClock
from csms.metering.service import ReadingsService
from csms.sessions.service import SessionsService
from csms.store.database import Database
from csms.store.tables.access import member
from csms.store.tables.sessions import session
from tests.csms.yard import BAY_1, FLAT_7, FLAT_12, SITE


async def test_who_charges_there_or_did_just_now(yard: Database, clock: ManualClock) -> None:
    sessions = SessionsService(yard, clock, ReadingsService(yard), None, None)  # type: ignore[arg-type]
    now = clock.now()
    rows = (
        (FLAT_12, 1, "started", None),
        (FLAT_7, 1, "ended", now - timedelta(minutes=30)),
        ("van-a", 2, "started", None),
    )
    async with yard.write() as connection:
        for member_id, evse, state, ended_at in rows:
            await connection.execute(
                update(member).where(member.c.id == member_id).values(email=f"{member_id}@weavers.example")
            )
            await connection.execute(
                insert(session).values(
                    station_id=BAY_1,
                    site_id=SITE,
                    evse=evse,
                    state=state,
                    charging="idle",
                    member_id=member_id,
                    started_at=now - timedelta(hours=1),
                    arrived_at=now,
                    ended_at=ended_at,
                    marks={},
                )
            )
    concerned = ConcernedMembers(clock, sessions, MembersService(yard, clock))
    assert await concerned.addresses(BAY_1, 1) == (f"{FLAT_12}@weavers.example",)
    assert await concerned.addresses(BAY_1, None) == (
        f"{FLAT_12}@weavers.example",
        "van-a@weavers.example",
    )
    assert await concerned.addresses("elsewhere", 1) == ()
