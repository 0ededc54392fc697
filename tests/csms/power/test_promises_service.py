"""What a restart finds is what was on disk when `save` returned (the columns: `test_repository`)."""

from dataclasses import replace

from sqlalchemy import insert

from csms.power.installation import Evse
from csms.power.promises_service import KeptPromises
from csms.power.steering.promises import StoredOffer
from csms.store.database import Database
from csms.store.tables.sites import site
from csms.store.tables.stations import station
from tests.conftest import NOON

OFFER = StoredOffer(
    promised_a=16.0,
    lapses_s=NOON.timestamp() + 130,
    asked_a=16.0,
    accepted=True,
    asked_s=NOON.timestamp(),
    fallback_stored=True,
)


async def test_the_last_that_was_saved_is_what_is_loaded(database: Database) -> None:
    kept = KeptPromises(database)
    async with database.write() as connection:
        facts = {"time_zone": "UTC", "currency": "EUR", "system": "TN-400", "active": True}
        await connection.execute(insert(site), [{"id": "yard", "name": "Yard", "created_at": NOON, **facts}])
        row = {"id": "B1", "registration": "accepted", "created_at": NOON, "site_id": "yard"}
        await connection.execute(insert(station), [row])
    await kept.save("yard", {Evse("B1", 1): OFFER})
    await kept.save("yard", {Evse("B1", 1): replace(OFFER, promised_a=6.0)})
    assert await KeptPromises(database).load("yard") == {Evse("B1", 1): replace(OFFER, promised_a=6.0)}
    assert await kept.load("elsewhere") == {}
