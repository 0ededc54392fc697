"""What the services' tests do not reach of the SQL."""

import pytest

from csms.errors import NotFound
from csms.firmware import repository
from csms.store.database import Database
from tests.csms.yard import BAY_1, SITE


async def test_what_is_not_there(yard: Database) -> None:
    async with yard.read() as connection:
        assert await repository.running_campaigns(connection) == ()
        assert await repository.heard_updates(connection, BAY_1) == ()
        assert await repository.busy_elsewhere(connection, [BAY_1]) == ()
        assert await repository.zone_of(connection, SITE) == "Europe/Brussels"
        for missing in (
            repository.get_image(connection, "moon"),
            repository.get_campaign(connection, "moon"),
            repository.get_log(connection, 4711),
            repository.zone_of(connection, "moon"),
        ):
            with pytest.raises(NotFound):
                await missing
