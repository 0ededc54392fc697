"""Promises come back as they were written, on both databases."""

from dataclasses import replace

from sqlalchemy import insert

from csms.power import repository
from csms.power.installation import Evse
from csms.power.steering.promises import StoredOffer
from csms.store.database import Database
from csms.store.tables.sites import site
from csms.store.tables.stations import station
from tests.conftest import NOON

NOW_S = NOON.timestamp()
SITE = {"time_zone": "UTC", "currency": "EUR", "system": "TN-400", "active": True, "created_at": NOON}
OFFER = StoredOffer(
    promised_a=16.0,
    lapses_s=NOW_S + 130,
    asked_a=11.5,
    accepted=False,
    asked_s=NOW_S,
    fallback_stored=None,
    idle_may_end_s=NOW_S + 3590,
    idle_ends_s=NOW_S + 3610,
    stored_a=6.0,
    takes_zero=True,
    kept=False,
    follows=True,
    then_a=6.0,
    line=2,
    then_from_s=NOW_S + 110,
)


async def add_stations(database: Database, *names: str) -> None:
    """Stations whose name begins with B are at the yard, the others elsewhere."""
    async with database.write() as connection:
        sites = [{"id": id, "name": id, **SITE} for id in ("yard", "other")]
        await connection.execute(insert(site), sites)
        rows = [
            {
                "id": name,
                "registration": "accepted",
                "created_at": NOON,
                "site_id": "yard" if name.startswith("B") else "other",
            }
            for name in names
        ]
        await connection.execute(insert(station), rows)


async def save(database: Database, site_id: str, offers: dict[Evse, StoredOffer]) -> None:
    async with database.write() as connection:
        await repository.save(connection, database.dialect, site_id, offers)


async def load(database: Database, site_id: str) -> dict[Evse, StoredOffer]:
    async with database.read() as connection:
        return await repository.load(connection, site_id)


async def test_what_was_saved_comes_back_by_site(database: Database) -> None:
    await add_stations(database, "B1", "B2", "C1")
    bare = replace(OFFER, fallback_stored=True, idle_may_end_s=None, idle_ends_s=None)
    await save(database, "yard", {Evse("B1", 1): OFFER, Evse("B2", 2): bare})
    await save(database, "other", {Evse("C1", 1): OFFER})
    assert await load(database, "yard") == {Evse("B1", 1): OFFER, Evse("B2", 2): bare}
    assert await load(database, "nowhere") == {}


async def test_the_latest_replaces_what_was_there(database: Database) -> None:
    await add_stations(database, "B1")
    await save(database, "yard", {Evse("B1", 1): OFFER})
    later = replace(OFFER, promised_a=6.0, accepted=True, fallback_stored=False)
    await save(database, "yard", {Evse("B1", 1): later})
    assert await load(database, "yard") == {Evse("B1", 1): later}
