"""What guests took and paid, by hand, on both databases."""

from datetime import UTC, datetime

from api.deps import Central
from tests.api.reports.conftest import Make
from tests.api.reports.sessions import HOUR, by_id, charged
from tests.csms.yard import BAY_1, BAY_2, FLAT_12

FIRST = datetime(2026, 10, 31, 23, tzinfo=UTC)


async def a_month(central: Central) -> None:
    database = central.database
    await charged(database, BAY_1, None, FIRST + 10 * HOUR, 2, 10_000, (500, 605))
    await charged(database, BAY_1, None, FIRST + 22 * HOUR, 2.5, 2_000, (100, None))
    await charged(database, BAY_2, None, FIRST + 30 * HOUR, 1, 1_000)
    await charged(database, BAY_2, None, FIRST + 40 * HOUR, 1, 300, verdict="unknown")
    await charged(database, BAY_2, None, FIRST + 41 * HOUR, 1, 0, verdict="unknown")
    await charged(database, BAY_2, FLAT_12, FIRST + 50 * HOUR, 1, 9_000, (900, 999))
    await charged(database, BAY_1, None, FIRST - 2 * HOUR, 1, 7_000, (700, 777))


async def test_income_by_charger_and_what_is_left_of_it(central: Central, made: Make) -> None:
    await a_month(central)
    report = (await made("guests", "2026-11", energy_price="0.25")).as_json()
    figures = ("sessions", "energy_wh", "cost_excl", "cost_incl", "energy_cost", "surplus", "unpriced")
    assert by_id(report["items"], *figures) == {
        BAY_1: (2, 12_000, "6.00", "7.05", "3.00", "3.00", 0),
        BAY_2: (1, 1_000, "0.00", "0.00", "0.25", "-0.25", 1),
    }
    assert by_id(report["totals"], "sessions", "surplus") == {"": (3, "2.75")}
    [nobody] = report["unknown"]
    assert (nobody["sessions"], nobody["energy_wh"]) == (1, 300)
    assert "in no sum" in report["notes"][-1]


async def test_income_by_local_day_and_month(central: Central, made: Make) -> None:
    await a_month(central)
    days = (await made("guests", "2026-11", by="day")).as_json()
    assert by_id(days["items"], "energy_wh", "surplus") == {
        "2026-11-01": (10_000, None),
        "2026-11-02": (3_000, None),
    }
    assert "give energy_price" in " ".join(days["notes"])
    months = (await made("guests", start="2026-10-01", end="2026-12-01", by="month")).as_json()
    assert by_id(months["items"], "energy_wh") == {"2026-10": (7_000,), "2026-11": (13_000,)}


async def test_a_period_that_begins_inside_a_quarter(central: Central, made: Make) -> None:
    await charged(central.database, BAY_1, None, FIRST, 10.2, 500)
    report = await made("guests", start="2026-11-01T10:10:00+01:00", end="2026-11-02", by="day")
    assert [row["id"] for row in report.items] == ["2026-11-01"]


async def test_no_guests_are_no_income(made: Make) -> None:
    report = (await made("guests", "2026-11")).as_json()
    assert (report["items"], report["unknown"]) == ([], [])
    assert report["totals"][0]["cost_incl"] == "0.00"
