"""A station is not moved under a plugged-in car."""

import pytest
from sqlalchemy import insert, update

from csms.errors import Conflict
from csms.sites.service import SitesService
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.store.tables.sessions import session
from tests.conftest import NOON


async def test_it_is_moved_when_the_session_has_ended(
    database: Database, sites: SitesService, stations: StationsService, bay: str
) -> None:
    await sites.create_circuit(
        "weavers-yard", id="board", name="Board", fed_from="supply", limit_a=(40, 40, 40)
    )
    async with database.write() as connection:
        await connection.execute(
            insert(session).values(
                station_id=bay, evse=1, state="charging", started_at=NOON, arrived_at=NOON, marks=[]
            )
        )
    with pytest.raises(Conflict, match="a car is plugged in at station BAY-01"):
        await stations.update(bay, circuit_id="board")
    with pytest.raises(Conflict, match="a car is plugged in"):
        await stations.update(bay, site_id=None, circuit_id=None)
    assert (await stations.update(bay, name="Bay one", fallback_a=6)).circuit_id == "supply"
    async with database.write() as connection:
        await connection.execute(update(session).values(state="ended"))
    assert (await stations.update(bay, circuit_id="board")).circuit_id == "board"
