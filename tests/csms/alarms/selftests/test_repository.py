"""The latest test of each charger that has a place."""

from csms.alarms.selftests import repository
from csms.store.database import Database
from tests.csms.yard import BAY_1, BAY_2, EARLY, ELSEWHERE, VAN_1


async def test_every_charger_is_there_with_or_without_a_test(yard: Database) -> None:
    async with yard.read() as connection:
        found = await repository.latest_of_all(connection)
        assert await repository.kept_since(connection, BAY_1) == EARLY
        assert await repository.kept_since(connection, "moon") is None
    assert [(station, test) for station, _site, _since, test in found] == [
        (each, None) for each in sorted((BAY_1, BAY_2, ELSEWHERE, VAN_1))
    ]
