"""Quarter-hour means of a circuit, by hand, on both databases."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import update

from api.deps import Central
from api.reports.load import levels
from csms.errors import NotFound
from csms.metering import repository as metering
from csms.metering.building import LineReading
from csms.store.tables.sites import circuit
from tests.api.reports.conftest import Make
from tests.api.reports.sessions import charged
from tests.csms.yard import BAY_1, COURTYARD, FLAT_12, SUPPLY, VAN, VAN_1

START = datetime(2026, 11, 1, 23, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def told(minutes: float, *current_a: float | None) -> LineReading:
    one, two, three = current_a
    return LineReading(START + minutes * MINUTE, (one, two, three))


def test_means_are_weighted_by_time_and_a_value_holds_five_minutes() -> None:
    edges = [START + 15 * n * MINUTE for n in range(4)]
    readings = [
        told(0, 10.0, 1.0, None),
        *(told(n, 10.0, 1.0, None) for n in range(1, 12)),
        told(12, 40.0, 1.0, None),
    ]
    one, two, three = levels(readings, edges)
    # 12 minutes of 10 A and 3 of 40 A.
    assert one.mean_a[:2] == pytest.approx((16.0, 1.0))
    assert one.mean_a[2] is None
    assert one.most_a == (40.0, 1.0, None)
    assert one.known == pytest.approx(1.0)
    # 40 A hold until five minutes after they were told, and then nothing is known.
    assert two.mean_a[0] == pytest.approx(40.0)
    assert two.known == pytest.approx(2 / 15)
    assert (three.mean_a, three.known) == ((None, None, None), 0)


def test_no_readings_are_no_levels() -> None:
    assert [level.known for level in levels([], [START, START + MINUTE, START + 2 * MINUTE])] == [0, 0]


async def a_day(central: Central) -> None:
    """The supply takes 20 A, and 50 A in the quarter from 18:00; the bays 4 kWh from 17:30 to 18:30."""
    evening = START + timedelta(hours=18)
    async with central.database.write() as connection:
        counts = {"meter": {"counts": "base", "period_s": 60}}
        await connection.execute(update(circuit).where(circuit.c.id == SUPPLY).values(counts))
    changes = [
        metering.circuit_change(
            SUPPLY,
            "base",
            LineReading(at, (50.0 if evening <= at < evening + 15 * MINUTE else 20.0, 5.0, 0.0)),
        )
        for n in range(24 * 60)
        for at in [START + n * MINUTE]
    ]
    await central.database.writer.add(*changes)
    await charged(
        central.database,
        BAY_1,
        FLAT_12,
        evening - 30 * MINUTE,
        1,
        4_000,
        begin_wh=0,
        registers=[(0.5, 2_000)],
    )
    await charged(central.database, VAN_1, VAN, evening, 0.25, 500)


async def test_a_day_and_its_peaks(central: Central, made: Make) -> None:
    await a_day(central)
    report = await made("load", start="2026-11-02", end="2026-11-03")
    assert len(report.items) == 96
    [peak] = [row for row in report.items if str(row["id"]).startswith("2026-11-02T18:00")]
    assert (peak["l1_a"], peak["l2_a"], peak["l1_most_a"], peak["known_percent"]) == (
        *(Decimal("50.0"), Decimal("5.0"), Decimal("50.0")),
        100,
    )
    assert peak["chargers_w"] == 4_000 + 2_000, "1 kWh of bay 1 and 0.5 kWh of the van in a quarter"
    assert [row["id"] for row in report.totals] == [
        "Highest L1: 2026-11-02T18:00:00+01:00",
        "Highest L2: 2026-11-02T00:00:00+01:00",
        "Highest L3: 2026-11-02T00:00:00+01:00",
        "Highest of the chargers: 2026-11-02T18:00:00+01:00",
    ]
    assert "does not count the chargers" in " ".join(report.notes)
    assert (report.chart is not None, report.about["circuit"]) == (True, SUPPLY)


async def test_a_branch_has_its_own_chargers_only(central: Central, made: Make) -> None:
    await a_day(central)
    report = await made("load", start="2026-11-02", end="2026-11-03", circuit=COURTYARD)
    assert max(int(str(row["chargers_w"])) for row in report.items) == 4_000
    assert "has no meter now" in " ".join(report.notes)
    with pytest.raises(NotFound):
        await made("load", "2026-11", circuit="attic")


async def test_a_short_and_a_long_day(made: Make) -> None:
    for start, end, quarters in (("2026-03-29", "2026-03-30", 92), ("2026-10-25", "2026-10-26", 100)):
        assert len((await made("load", start=start, end=end)).items) == quarters
