"""How much chargers are used, by hand, on both databases."""

from datetime import UTC, datetime
from decimal import Decimal

from sqlalchemy import insert

from api.deps import Central
from csms.clock import ManualClock
from csms.store.tables.stations import evse
from tests.api.reports.conftest import Make
from tests.api.reports.sessions import HOUR, charged
from tests.csms.yard import BAY_1, BAY_2, EARLY, FLAT_12, VAN_1

START = datetime(2026, 11, 1, 23, tzinfo=UTC)
"""Midnight to Monday, 2 November, in Brussels."""


async def test_occupied_and_charging_time_of_a_day(central: Central, made: Make) -> None:
    database = central.database
    async with database.write() as connection:
        for number in (1, 2):
            row = {"station_id": BAY_2, "number": number, "status": "available", "status_at": EARLY}
            await connection.execute(insert(evse).values(row))
    # 10 h before midnight and 2 h after; held back in the last hour before and half an hour after.
    await charged(
        database, BAY_1, FLAT_12, START - 10 * HOUR, 12, 20_000, pauses=[(9, 10.5, True), (9.5, 10.25, False)]
    )
    await charged(database, BAY_1, FLAT_12, START + 4 * HOUR, 6, 10_000, pauses=[(3, None, False)])
    await charged(database, BAY_2, None, START + 20 * HOUR, 8, 5_000, evse=2)
    await charged(database, BAY_2, None, START + 5 * HOUR, 1, 0, verdict="blocked")
    await charged(database, BAY_2, None, START + 6 * HOUR, 0.5, 100, verdict="blocked", evse=2)
    assert isinstance(central.clock, ManualClock)
    central.clock.advance(86_400)
    report = (await made("utilisation", start="2026-11-02", end="2026-11-03")).as_json()
    names = ("sessions", "occupied_s", "charging_s", "occupied_percent", "energy_wh", "sessions_per_day")
    rows = {(row["id"], row["evse"]): tuple(row[name] for name in names) for row in report["items"]}
    assert rows == {
        (BAY_1, 1): (1, 8 * 3600, int(4.5 * 3600), "33.33", 10_000, "1.00"),
        (BAY_2, 1): (0, 0, 0, "0.00", 0, "0.00"),
        (BAY_2, 2): (2, int(4.5 * 3600), int(4.5 * 3600), "18.75", 5_100, "2.00"),
        (VAN_1, 1): (0, 0, 0, "0.00", 0, "0.00"),
    }
    [total] = report["totals"]
    assert total["occupied_s"] == int(12.5 * 3600)
    assert (total["sessions"], total["occupied_percent"]) == (3, "13.02"), "the mean over four EVSEs"


async def test_what_runs_is_occupied_until_now(central: Central, made: Make) -> None:
    now = central.clock.now()
    await charged(central.database, BAY_1, FLAT_12, now - 2 * HOUR, None, 4_000, pauses=[(1.5, None, True)])
    report = await made("utilisation", "2026-11")
    [row] = [row for row in report.items if row["id"] == BAY_1]
    assert (row["occupied_s"], row["charging_s"]) == (7200, 5400)
    assert "not over" in report.notes[-1]
    # Two of the 36 hours since the beginning of November.
    assert row["occupied_percent"] == Decimal("5.56")
