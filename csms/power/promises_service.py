"""Promises over a restart: in the database, on disk before an offer is sent (`controller.OfferStore`)."""

from collections.abc import Mapping

from csms.power import repository
from csms.power.installation import Evse
from csms.power.steering.promises import StoredOffer
from csms.store.database import Database


class KeptPromises:
    """What was last saved of every EVSE."""

    def __init__(self, database: Database) -> None:
        self._database = database

    async def load(self, site_id: str) -> Mapping[Evse, StoredOffer]:
        """What was promised before."""
        async with self._database.read() as connection:
            return await repository.load(connection, site_id)

    async def save(self, site_id: str, offers: Mapping[Evse, StoredOffer]) -> None:
        """Write promises down; they are on disk when it returns."""
        async with self._database.write() as connection:
            await repository.save(connection, self._database.dialect, site_id, offers)
