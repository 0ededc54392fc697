from datetime import timedelta

from sqlalchemy import insert

from api.deps import Central
from api.reports.orphans import orphan_note
from api.reports.period import Period
from csms.store.tables.sessions import orphan_step
from tests.csms.yard import BAY_1, EARLY, ELSEWHERE, SITE, build_yard

MONTH = Period(EARLY, EARLY + timedelta(days=31))


async def test_only_what_waits_here_and_now_is_told(central: Central) -> None:
    await build_yard(central.database)
    late = EARLY + timedelta(days=40)
    async with central.database.write() as connection:
        assert await orphan_note(connection, SITE, MONTH) == ()
        for station_id, at, resolved_at in (
            (BAY_1, EARLY, None),
            (BAY_1, EARLY, late),
            (BAY_1, late, None),
            (ELSEWHERE, EARLY, None),
        ):
            row = {"station_id": station_id, "at": at, "arrived_at": at, "reason": "", "body": {}}
            await connection.execute(insert(orphan_step).values({**row, "resolved_at": resolved_at}))
        (note,) = await orphan_note(connection, SITE, MONTH)
    assert note.startswith("Steps that fit no session: 1.")
