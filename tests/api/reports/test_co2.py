"""CO2 by a series of factors, by hand, on both databases."""

from datetime import UTC, datetime, timedelta

from api.deps import Central
from csms.metering.emissions.factor import series
from tests.api.reports.conftest import Make
from tests.api.reports.sessions import HOUR, by_id, charged
from tests.csms.yard import BAY_1, BAY_2, FLAT_12, SITE

MIDNIGHT = datetime(2026, 11, 1, 23, tzinfo=UTC)
NOON = MIDNIGHT + 12 * HOUR


async def a_day(central: Central) -> None:
    """2 kWh an hour from 12 to 15 o'clock, factors 100, 200 and then none; 1 kWh of nobody at one."""
    await central.emissions.put(SITE, series(NOON, timedelta(hours=1), [100, 200]))
    registers = [(0, 0), (1, 2_000), (2, 4_000), (3, 6_000)]
    await charged(central.database, BAY_1, FLAT_12, NOON, 3, 6_000, registers=registers)
    await charged(central.database, BAY_2, None, NOON + HOUR, 1, 1_000)


async def test_by_member_with_what_has_no_factor(central: Central, made: Make) -> None:
    await a_day(central)
    report = (await made("co2", start="2026-11-02", end="2026-11-03")).as_json()
    figures = ("energy_wh", "missing_wh", "co2_g", "g_per_kwh")
    assert by_id(report["items"], *figures) == {FLAT_12: (6_000, 2_000, 600, "150.0")}
    assert by_id(report["unknown"], *figures) == {"": (1_000, 0, 200, "200.0")}
    assert by_id(report["totals"], *figures) == {"": (7_000, 2_000, 800, "160.0")}
    assert "Without a factor: 2000 of 7000 Wh." in report["notes"]


async def test_by_hour_and_by_charger(central: Central, made: Make) -> None:
    await a_day(central)
    hours = (await made("co2", start="2026-11-02", end="2026-11-03", by="hour")).as_json()
    assert len(hours["items"]) == 24
    used = {
        row["id"][11:13]: (row["energy_wh"], row["co2_g"], row["g_per_kwh"])
        for row in hours["items"]
        if row["energy_wh"]
    }
    assert used == {"12": (2_000, 200, "100.0"), "13": (3_000, 600, "200.0"), "14": (2_000, 0, None)}
    chargers = (await made("co2", start="2026-11-02", end="2026-11-03", by="charger")).as_json()
    assert by_id(chargers["items"], "co2_g") == {BAY_1: (600,), BAY_2: (200,)}


async def test_quarters_where_factors_are_that_short(central: Central, made: Make) -> None:
    quarter = timedelta(minutes=15)
    await central.emissions.put(SITE, series(NOON, quarter, [0, 100, 200, 300]))
    registers = [(0, 0), (0.25, 1_000), (0.5, 1_000), (0.75, 1_000), (1, 2_000)]
    await charged(central.database, BAY_1, FLAT_12, NOON, 1, 2_000, registers=registers)
    report = (await made("co2", start="2026-11-02", end="2026-11-03")).as_json()
    # 1 kWh at 0 and 1 kWh at 300: the mean of the hour, 150, would be right by luck only.
    assert by_id(report["items"], "co2_g") == {FLAT_12: (300,)}


async def test_without_factors_there_is_no_figure(central: Central, made: Make) -> None:
    await charged(central.database, BAY_1, FLAT_12, NOON, 1, 2_000)
    report = await made("co2", "2026-11", by="month")
    [row] = report.items
    assert (row["id"], row["energy_wh"], row["missing_wh"], row["co2_g"]) == ("2026-11", 2_000, 2_000, 0)
    assert row["g_per_kwh"] is None
    assert "There are no factors" in " ".join(report.notes)
    assert report.totals[0]["g_per_kwh"] is None
