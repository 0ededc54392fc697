"""The main meter less the chargers, by hand, on both databases."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import insert

from api.deps import Central
from api.reports.losses import counted
from csms.store.tables.ledger import supply_register
from tests.api.reports.conftest import Make
from tests.api.reports.sessions import HOUR, charged
from tests.csms.yard import BAY_1, BAY_2, EARLY, FLAT_12, SITE

FIRST = datetime(2026, 10, 31, 23, tzinfo=UTC)
LAST = datetime(2026, 11, 30, 23, tzinfo=UTC)
DAY = timedelta(days=1)


async def read(central: Central, *readings: tuple[str, datetime, int]) -> None:
    async with central.database.write() as connection:
        for n, (serial, at, register_wh) in enumerate(readings):
            row = {"id": f"r{n}", "site_id": SITE, "serial": serial, "at": at, "register_wh": register_wh}
            await connection.execute(insert(supply_register).values(row | {"created_at": EARLY}))


async def a_month(central: Central) -> None:
    """Members 20 000, guests 5 000, refused 300, between sessions 200 Wh; half of 4 000 before it."""
    database = central.database
    await charged(database, BAY_1, FLAT_12, FIRST + DAY, 2, 18_000, begin_wh=1_000)
    await charged(database, BAY_1, None, FIRST + 2 * DAY, 2, 5_000, begin_wh=19_200)
    await charged(database, BAY_2, None, FIRST + 3 * DAY, 2, 300, verdict="unknown")
    await charged(database, BAY_2, FLAT_12, FIRST - HOUR, 2, 4_000, begin_wh=50, registers=[(1, 2_050)])


async def test_losses_of_a_month(central: Central, made: Make) -> None:
    await a_month(central)
    await read(central, ("M1", FIRST, 100_000), ("M1", LAST, 126_250))
    report = await made("losses", "2026-11")
    rows = {str(row["id"]): (row["energy_wh"], row["percent"]) for row in report.items}
    assert rows == {
        "main": (26_250, Decimal("100.00")),
        "members": (20_000, Decimal("76.19")),
        "guests": (5_000, Decimal("19.05")),
        "unknown": (300, Decimal("1.14")),
        "between": (200, Decimal("0.76")),
        "losses": (750, Decimal("2.86")),
    }
    assert report.totals[0]["energy_wh"] == 25_300
    assert not any("Estimated" in note or "not usual" in note for note in report.notes)


async def test_unusual_losses_and_estimates_are_told(central: Central, made: Make) -> None:
    await a_month(central)
    await read(central, ("M1", FIRST - 15 * DAY, 0), ("M1", LAST + 15 * DAY, 60_000))
    report = await made("losses", "2026-11")
    [losses] = [row for row in report.items if row["id"] == "losses"]
    assert losses["energy_wh"] == 30_000 - 25_500
    notes = " ".join(report.notes)
    assert "Estimated" in notes
    assert "15.0 % are not usual" in notes


async def test_without_registers_nothing_is_guessed(central: Central, made: Make) -> None:
    await a_month(central)
    report = await made("losses", "2026-11")
    rows = {str(row["id"]): (row["energy_wh"], row["percent"]) for row in report.items}
    assert (rows["main"], rows["losses"], rows["members"]) == ((None, None), (None, None), (20_000, None))
    assert "No losses can be told: there is no register of the main meter" in " ".join(report.notes)


@pytest.mark.parametrize(
    ("readings", "energy_wh", "interpolated", "missing"),
    [
        ([("A", 0, 100), ("A", 30, 400)], 300, False, ""),
        ([("A", -10, 0), ("A", 40, 500)], 300, True, ""),
        ([("A", 0, 100), ("A", 10, 200), ("B", 10, 0), ("B", 30, 50)], 150, False, ""),
        ([("A", 1, 100), ("A", 30, 400)], None, False, "at or before"),
        ([("A", 0, 100), ("A", 29, 400)], None, False, "at or after"),
        ([("A", 0, 100), ("A", 10, 50), ("A", 30, 400)], None, False, "falls"),
    ],
)
def test_registers_of_the_main_meter(
    readings: list[tuple[str, int, int]], energy_wh: int | None, interpolated: bool, missing: str
) -> None:
    told = [(serial, FIRST + day * DAY, wh) for serial, day, wh in readings]
    found = counted(told, FIRST, FIRST + 30 * DAY)
    assert found[:2] == (energy_wh, interpolated)
    assert missing in found[2]
