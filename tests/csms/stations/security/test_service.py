"""The row of a station, on both databases."""

from csms.clock import ManualClock
from csms.stations.security.profile import Profile
from csms.stations.security.service import SecurityRecords, SecurityState
from csms.store.database import Database
from csms.store.fact import Fact
from tests.csms.yard import BAY_1, build_yard, facts


async def test_what_is_kept_is_told_with_it(database: Database, clock: ManualClock) -> None:
    await build_yard(database)
    records = SecurityRecords(database)
    assert await records.state(BAY_1) == SecurityState()
    fact = Fact(topic="station.security_upgrade", at=clock.now(), subject=BAY_1)
    await records.keep(BAY_1, fact, changed_at=clock.now(), wanted=2, step="failed")
    state = await records.state(BAY_1)
    assert (state.standing.wanted, state.step) == (Profile.KEY_OVER_TLS, "failed")
    assert await facts(database, "station.security_upgrade") == [fact]
