"""What is made of a reading, before anybody is told."""

from datetime import UTC, datetime, timedelta

import pytest

from csms.metering.building import (
    Gathered,
    LineReading,
    back_off_s,
    current,
    missing,
    of_circuit,
    per_line,
    rotated,
    short,
    silent_after_s,
    worth_a_row,
)
from csms.power.steering.base_load import BuildingMeter
from csms.stations.model import PerLine

NOON = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
FUSES = (63.0, 63.0, 63.0)


def after(seconds: float, *amps: float | None) -> LineReading:
    l1, l2, l3 = amps
    return LineReading(NOON + timedelta(seconds=seconds), (l1, l2, l3))


@pytest.mark.parametrize(
    ("value", "factor", "amps"),
    [
        (12, 1.0, 12.0),
        (-7.5, 1.0, -7.5),
        ("12.25", 1.0, 12.25),
        (" 3 ", 1.0, 3.0),
        (16_000, 0.001, 16.0),
        (4.0, -1.0, -4.0),
        (0, 1.0, 0.0),
    ],
)
def test_numbers_and_texts_that_spell_them_are_currents(value: object, factor: float, amps: float) -> None:
    assert current(value, factor) == amps


@pytest.mark.parametrize(
    "value",
    [
        None,
        "",
        "n/a",
        "nan",
        "0x10",
        "1_000",
        True,
        False,
        float("nan"),
        float("inf"),
        100_001,
        10**400,
        [1],
        {},
    ],
)
def test_what_is_no_current_is_missing_and_not_zero(value: object) -> None:
    assert current(value) is None


def test_a_line_that_is_left_out_stays_missing() -> None:
    assert per_line({"L1": 4.0, "L3": 0.0}) == (4.0, None, 0.0)
    assert missing((4.0, None, 0.0), FUSES) == ("L2",)
    assert missing((4.0, None, None), (40.0, 40.0, 0.0)) == ("L2",)
    assert after(0, 4.0, None, 0.0).told == {"L1": 4.0, "L3": 0.0}


def test_lines_that_the_circuit_has_not_are_not_told_of() -> None:
    assert of_circuit((4.0, 5.0, 6.0), (40.0, 0.0, 40.0)) == (4.0, None, 6.0)


def test_a_meters_own_lines_are_put_on_the_supplys() -> None:
    assert rotated((1.0, 2.0, 3.0), ("L2", "L3", "L1")) == (3.0, 1.0, 2.0)
    assert rotated((1.0, None, 3.0), ("L1", "L2", "L3")) == (1.0, None, 3.0)


@pytest.mark.parametrize("period_s", [1.0, 9.9, 10.0, 20.0, 600.0])
def test_power_and_metering_agree_on_when_a_meter_is_silent(period_s: float) -> None:
    assert silent_after_s(period_s, 30.0) == BuildingMeter(period_s=period_s).stale_after_s


def test_lines_that_come_one_by_one_are_as_old_as_the_oldest() -> None:
    gathered = Gathered({}).take({"L1": 4.0}, NOON).take({"L2": 5.0}, NOON + timedelta(seconds=2))
    assert gathered.reading(NOON + timedelta(seconds=3), 30) == after(0, 4.0, 5.0, None)
    assert gathered.reading(NOON + timedelta(seconds=31), 30) == after(2, None, 5.0, None)
    assert gathered.reading(NOON + timedelta(seconds=33), 30) is None
    assert gathered.take({"L1": None}, NOON).reading(NOON, 30) == after(2, None, 5.0, None)


@pytest.mark.parametrize(
    ("seconds", "amps", "kept"),
    [
        (60, (10.0, 10.0, 10.0), True),
        (59, (10.0, 10.0, 10.0), False),
        (10, (14.9, 10.0, 10.0), False),
        (10, (15.0, 10.0, 10.0), True),
        (10, (10.0, 5.0, 10.0), True),
        (10, (10.0, None, 10.0), True),
        (4, (60.0, 10.0, 10.0), False),
        (5, (60.0, 10.0, 10.0), True),
    ],
)
def test_a_row_a_minute_and_one_for_each_step(seconds: float, amps: PerLine, kept: bool) -> None:
    assert worth_a_row(after(0, 10.0, 10.0, 10.0), after(seconds, *amps), FUSES) is kept


def test_the_first_reading_is_kept_and_a_large_supply_has_larger_steps() -> None:
    assert worth_a_row(None, after(0, 1.0, 1.0, 1.0), FUSES)
    before = after(0, 300.0, 300.0, 300.0)
    assert not worth_a_row(before, after(10, 319.0, 300.0, 300.0), (400.0, 400.0, 400.0))
    assert worth_a_row(before, after(10, 320.0, 300.0, 300.0), (400.0, 400.0, 400.0))


def test_it_is_tried_again_ever_more_seldom_up_to_a_minute() -> None:
    waits = [back_off_s(failures, first_s=1, most_s=60) for failures in range(1, 9)]
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60]
    assert back_off_s(10_000, first_s=1, most_s=60) == 60


def test_a_fault_is_one_short_line() -> None:
    assert short("refused\n  by  peer") == "refused by peer"
    assert len(short("x" * 900)) == 200
