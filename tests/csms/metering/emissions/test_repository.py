from datetime import UTC, datetime, timedelta

from csms.metering.emissions import repository
from csms.metering.emissions.factor import series
from csms.store.database import Database

START = datetime(2026, 11, 1, tzinfo=UTC)
HOUR = timedelta(hours=1)


async def test_factors_are_kept_and_found_by_time(database: Database) -> None:
    factors = series(START, HOUR, [100, 200, 300.125])
    async with database.write() as connection:
        await repository.add(connection, "yard", factors)
        assert await repository.between(connection, "yard", START, START + 3 * HOUR) == factors
        assert await repository.between(connection, "yard", START, START + 3 * HOUR, 2) == factors[:2]
        assert await repository.between(connection, "mill", START, START + 3 * HOUR) == ()
        inside = await repository.between(connection, "yard", START + HOUR / 2, START + HOUR)
        assert inside == factors[:1]
        assert await repository.remove(connection, "yard", START + HOUR / 2, START + 2 * HOUR) == 1
        assert await repository.between(connection, "yard", START, START + 3 * HOUR) == (
            factors[0],
            factors[2],
        )
