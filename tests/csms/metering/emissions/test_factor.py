from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.metering.emissions.factor import MOST, EmissionFactor, emitted, series

START = datetime(2026, 11, 1, tzinfo=UTC)
HOUR = timedelta(hours=1)


def test_a_series_is_one_factor_after_the_other() -> None:
    assert series(START, HOUR, [100, "0.5"]) == (
        EmissionFactor(START, START + HOUR, 100_000),
        EmissionFactor(START + HOUR, START + 2 * HOUR, 500),
    )


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ([], "g_per_kwh"),
        ([1] * (MOST + 1), "g_per_kwh"),
        ([1, -1], "g_per_kwh[1]"),
        ([True], "g_per_kwh[0]"),
        (["x"], "g_per_kwh[0]"),
        ([float("nan")], "g_per_kwh[0]"),
    ],
)
def test_what_is_no_series_is_named(values: list[object], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        series(START, HOUR, values)
    assert refused.value.field == field


def test_energy_is_weighted_by_time_and_gaps_are_told() -> None:
    one, _, three = series(START, HOUR, [100, 200, 300])
    assert emitted((one, three), START, START + HOUR, 2_000) == (Decimal(200_000), Decimal(0))
    assert emitted((one, three), START, START + 3 * HOUR, 3_000) == (Decimal(400_000), Decimal(1_000))
    assert emitted((one, three), START + HOUR / 2, START + 3 * HOUR / 2, 1_000) == (
        Decimal(50_000),
        Decimal(500),
    )
    assert emitted((), START, START + HOUR, 5) == (Decimal(0), Decimal(5))
    assert emitted((one,), START - 2 * HOUR, START - HOUR, 5) == (Decimal(0), Decimal(5))
