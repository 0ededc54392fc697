from datetime import UTC, datetime, timedelta

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, NotFound
from csms.metering.emissions.factor import series
from csms.metering.emissions.service import EmissionsService
from csms.sites.service import SitesService
from csms.store.database import Database
from tests.csms.yard import SITE, build_yard

START = datetime(2026, 11, 1, tzinfo=UTC)
HOUR = timedelta(hours=1)


async def test_a_series_takes_the_place_of_what_was_there(database: Database, clock: ManualClock) -> None:
    await build_yard(database)
    emissions = EmissionsService(database, SitesService(database, clock))
    await emissions.put(SITE, series(START, HOUR, [100, 200, 300]))
    await emissions.put(SITE, series(START + HOUR, HOUR / 2, [20, 21]))
    found = await emissions.between(SITE, START, START + 3 * HOUR)
    assert [factor.mg_per_kwh for factor in found] == [100_000, 20_000, 21_000, 300_000]
    with pytest.raises(Conflict, match="reaches over an end"):
        await emissions.put(SITE, series(START + HOUR / 2, HOUR, [1]))
    assert await emissions.between(SITE, START, START + 3 * HOUR) == found, "nothing half done"
    assert await emissions.remove(SITE, START, START + HOUR) == 1
    for refused in (
        emissions.put("moon", series(START, HOUR, [1])),
        emissions.between("moon", START, START),
        emissions.remove("moon", START, START),
    ):
        with pytest.raises(NotFound):
            await refused
