"""Who comes takes over the planned place with all that hangs on it."""

from collections.abc import Awaitable, Callable
from typing import Any

from sqlalchemy import insert, select

from csms.stations import repository
from csms.stations.joining_service import join
from csms.stations.model import Registration
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.store.tables.access import access_right, member_group
from tests.conftest import NOON

Facts = Callable[[str], Awaitable[list[dict[str, Any]]]]


async def test_the_place_its_evses_and_its_rights_go_over(
    database: Database, stations: StationsService, bay: str, facts: Facts
) -> None:
    place = await stations.update(
        bay, evses=2, wiring=("L2", "L3", "L1"), fallback_a=6.0, expected_serial="WY-1"
    )
    async with database.write() as connection:
        await connection.execute(
            insert(member_group).values(id="res", site_id="weavers-yard", name="Residents", created_at=NOON)
        )
        await connection.execute(
            insert(access_right).values(
                id="right", site_id="weavers-yard", group_id="res", station_id=bay, created_at=NOON
            )
        )
        joined = await join(connection, database.dialect, place, "SN-4711", None, NOON)
        assert await repository.get_station(connection, "SN-4711") == joined
        assert await repository.find_station(connection, bay) is None
        rights = await connection.execute(select(access_right.c.station_id))
        assert rights.scalars().all() == ["SN-4711"]
    assert (joined.name, joined.circuit_id, joined.wiring) == ("Bay 1", "supply", ("L2", "L3", "L1"))
    assert (joined.fallback_a, joined.expected_serial) == (6.0, "WY-1")
    assert joined.registration is Registration.ACCEPTED
    assert [evse.number for evse in await stations.evses("SN-4711")] == [1, 2]
    told = await facts("station.")
    assert [(fact["topic"], fact["subject"]) for fact in told[-3:]] == [
        ("station.deleted", bay),
        ("station.created", "SN-4711"),
        ("station.commissioned", "SN-4711"),
    ]
    assert told[-1]["planned_as"] == bay
