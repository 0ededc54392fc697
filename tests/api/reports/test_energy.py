"""Energy and cost by everything, sums made by hand, on both databases."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import insert

from api.deps import Central
from csms.store.tables.access import member_group, membership
from csms.store.tables.sessions import orphan_step
from tests.api.reports.conftest import Make
from tests.api.reports.sessions import HOUR, by_id, charged
from tests.csms.yard import BAY_1, BAY_2, EARLY, ELSEWHERE, FLAT_7, FLAT_12, SITE, VAN

FIRST = datetime(2026, 10, 31, 23, tzinfo=UTC)
"""Midnight to 1 November in Brussels."""
LAST = datetime(2026, 11, 30, 23, tzinfo=UTC)
FIGURES = ("sessions", "energy_wh", "cost_excl", "vat", "cost_incl")


async def a_month(central: Central) -> None:
    """Within: 10 000 Wh for 2.50. Over the first midnight 5 000 Wh for 1.25, by registers 2 000 before
    it. Over the last one 4 000 Wh for 1.00 without readings, a quarter before it. One of nobody."""
    database = central.database
    noon = FIRST + 12 * HOUR
    await charged(database, BAY_1, FLAT_12, noon, 8, 10_000, (250, 300), begin_wh=100)
    await charged(
        database, BAY_2, FLAT_12, FIRST - HOUR, 3, 5_000, (125, 150), begin_wh=0, registers=[(1, 2_000)]
    )
    await charged(database, BAY_1, VAN, LAST - HOUR, 4, 4_000, (100, None), marks=("clock_off",))
    await charged(database, BAY_2, None, noon, 1, 1_234)
    await charged(database, ELSEWHERE, None, noon, 1, 66_000, (7777, 7777))
    await charged(database, BAY_1, FLAT_7, LAST, 1, 99)
    await charged(database, BAY_1, FLAT_7, FIRST - 2 * HOUR, 1, 98)


async def test_by_member_with_both_edges_cut(central: Central, made: Make) -> None:
    await a_month(central)
    report = await made("energy", "2026-11", by="member")
    document = report.as_json()
    assert by_id(document["items"], *FIGURES) == {
        FLAT_12: (2, 13_000, "3.25", "0.65", "3.90"),
        VAN: (1, 1_000, "0.25", "0.00", "0.25"),
    }
    assert by_id(document["unknown"], *FIGURES) == {"": (1, 1_234, "0.00", "0.00", "0.00")}
    assert by_id(document["totals"], *FIGURES) == {"": (4, 15_234, "3.50", "0.65", "4.15")}
    [total] = document["totals"]
    assert (total["unpriced"], total["vat_unknown"], total["marked"], total["running"]) == (1, 1, 1, 0)
    assert total["estimated_wh"] == 1_000, "cut without a reading at the edge; the other had one there"
    assert "Estimated: 1000 Wh" in " ".join(document["notes"])


async def test_the_months_of_a_year_hold_everything_once(central: Central, made: Make) -> None:
    await a_month(central)
    report = (await made("energy", start="2026-10-01", end="2027-01-01", by="month")).as_json()
    assert by_id(report["items"], "sessions", "energy_wh", "cost_excl") == {
        "2026-10": (2, 2_098, "0.50"),
        "2026-11": (4, 15_234, "3.50"),
        "2026-12": (2, 3_099, "0.75"),
    }
    assert by_id(report["totals"], "energy_wh", "cost_excl") == {"": (20_431, "4.75")}


async def test_all_ways_to_add_up_agree(central: Central, made: Make) -> None:
    await a_month(central)
    async with central.database.write() as connection:
        group = {"id": "vans", "site_id": SITE, "name": "Vans", "created_at": EARLY}
        await connection.execute(insert(member_group).values(group))
        for member_id in (VAN, FLAT_12):
            await connection.execute(insert(membership).values(group_id="vans", member_id=member_id))
    energies: dict[str, dict[str, Any]] = {}
    for by in ("member", "token", "charger", "group", "site", "month", "hour"):
        report = (await made("energy", "2026-11", by=by)).as_json()
        rows = [*report["items"], *report["unknown"]]
        [total] = report["totals"]
        assert total["energy_wh"] == 15_234
        assert (total["cost_excl"], total["cost_incl"]) == ("3.50", "4.15")
        assert sum(row["energy_wh"] for row in rows) == 15_234
        energies[by] = {row["name"]: row["energy_wh"] for row in rows}
    assert energies["charger"] == {BAY_1: 11_000, BAY_2: 4_234}
    assert energies["group"] == {"Residents and Vans": 13_000, "Vans": 1_000, "Without a member": 1_234}
    assert energies["token"] == {"04A1B2C3D4": 13_000, f"tok-{VAN}": 1_000, "Without a known token": 1_234}
    assert energies["site"] == {"Weavers' Yard": 15_234}
    assert len(energies["hour"]) == 30 * 24


async def test_hours_are_cut_by_the_registers(central: Central, made: Make) -> None:
    """1.5 h at 2 kW from 10:30, read at half past and on the hour."""
    start = datetime(2026, 11, 3, 9, 30, tzinfo=UTC)
    registers = [(0.25, 500), (0.5, 1_000), (1.0, 2_000)]
    await charged(
        central.database, BAY_1, FLAT_12, start, 1.5, 3_000, (30, 36), begin_wh=0, registers=registers
    )
    report = (await made("energy", start="2026-11-03", end="2026-11-04", by="hour")).as_json()
    used = {
        row["id"][11:16]: (row["energy_wh"], row["cost_excl"]) for row in report["items"] if row["sessions"]
    }
    assert used == {"10:00": (1_000, "0.10"), "11:00": (2_000, "0.20")}
    assert report["totals"][0]["estimated_wh"] == 0


async def test_days_of_23_and_25_hours(made: Make) -> None:
    """The last Sundays of March and October 2026 in Brussels (2000/84/EC)."""
    for day, after, hours in (
        ("2026-03-29", "2026-03-30", 23),
        ("2026-10-25", "2026-10-26", 25),
        ("2026-10-26", "2026-10-27", 24),
    ):
        report = await made("energy", start=day, end=after, by="hour")
        labels = [str(row["id"]) for row in report.items]
        assert len(labels) == len(set(labels)) == hours
    assert labels[0] == "2026-10-26T00:00+0100"


async def test_a_session_that_runs_has_its_energy_so_far(central: Central, made: Make) -> None:
    start = central.clock.now() - 2 * HOUR
    await charged(central.database, BAY_1, FLAT_12, start, None, 4_000, registers=[(0, 100), (2, 4_100)])
    report = (await made("energy", "2026-11", by="site")).as_json()
    [total] = report["totals"]
    assert (total["energy_wh"], total["running"], total["unpriced"]) == (4_000, 1, 0)
    assert "still run: 1" in " ".join(report["notes"])


async def test_steps_that_fit_nowhere_are_told(central: Central, made: Make) -> None:
    at = FIRST + HOUR
    async with central.database.write() as connection:
        row = {"station_id": BAY_1, "at": at, "arrived_at": at, "reason": "odd", "body": {}}
        await connection.execute(insert(orphan_step).values(row))
    report = await made("energy", "2026-11", by="site")
    assert "fit no session: 1" in " ".join(report.notes)
    assert "/v1/orphans" in " ".join(report.notes)
