"""From what was recorded to a bill: registers, pauses, idle time."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.errors import InvalidInput
from csms.tariffs.curve import SegmentKind
from csms.tariffs.session_cost import Interval, Reading, SessionFacts, session_cost, session_curve
from csms.tariffs.tariff import Tariff

UTC_ZONE = ZoneInfo("UTC")
NOON = datetime(2026, 1, 15, 12, tzinfo=UTC)
Make = Callable[..., Tariff]


def at(minutes: float) -> datetime:
    return NOON + timedelta(minutes=minutes)


def facts(minutes: float, *registers: tuple[float, int], **more: Any) -> SessionFacts:
    readings = [Reading(at(m), wh) for m, wh in registers]
    return SessionFacts(start=NOON, end=at(minutes), registers=readings, **more)


def pieces(known: SessionFacts) -> list[tuple[str, int, int]]:
    """(kind, minutes, Wh) of each segment, which these examples keep whole."""
    segments = session_curve(known, UTC_ZONE).segments
    assert all((s.duration_s / 60).denominator == s.energy_wh.denominator == 1 for s in segments)
    return [(s.kind.value, int(s.duration_s / 60), int(s.energy_wh)) for s in segments]


def test_registers_make_segments() -> None:
    known = facts(60, (0, 1000), (20, 3000), (50, 9000), (60, 9000))
    assert pieces(known) == [("CHARGING", 20, 2000), ("CHARGING", 30, 6000), ("CHARGING", 10, 0)]


def test_intervals_cut_between_readings_linearly() -> None:
    known = facts(
        60, (0, 0), (60, 6000), idle=[Interval(at(40))], paused=[Interval(at(10), at(20)), Interval(at(50))]
    )
    assert pieces(known) == [
        ("CHARGING", 10, 1000),
        ("PAUSED", 10, 1000),
        ("CHARGING", 20, 2000),
        ("PARKING", 10, 1000),
        ("PAUSED", 10, 1000),
    ]


def test_a_pause_of_ours_outweighs_an_idle_vehicle(tariff: Make) -> None:
    """Load sharing paused it from 10 to 40; that it asked for nothing meanwhile bills no parking."""
    known = facts(60, (0, 0), (60, 6000), idle=[Interval(at(20), at(50))], paused=[Interval(at(10), at(40))])
    priced = session_cost(tariff((None, ("PARKING_TIME", 6), ("TIME", 3))), known, "UTC")
    billed = {line.word: Fraction(0) for line in priced.lines}
    for line in priced.lines:
        billed[line.word] += line.quantity
    assert billed == {"TIME": 20, "PARKING_TIME": 10}
    assert priced.totals.excl.text() == "2.00"


def test_readings_around_the_session_count_whole() -> None:
    """Start and stop registers whose clocks lie outside: the energy is still stop minus start."""
    known = facts(60, (-2, 1000), (0, 1010), (30, 2000), (61, 3000))
    assert pieces(known) == [("CHARGING", 0, 10), ("CHARGING", 30, 990), ("CHARGING", 30, 1000)]


def test_late_first_and_early_last_readings_leave_energy_between_them() -> None:
    assert pieces(facts(60, (10, 0), (50, 4000))) == [
        ("CHARGING", 10, 0),
        ("CHARGING", 40, 4000),
        ("CHARGING", 10, 0),
    ]


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        (facts(60), [("CHARGING", 60, 0)]),
        (facts(60, (0, 500)), [("CHARGING", 60, 0)]),
        (facts(0, (0, 500)), [("CHARGING", 0, 0)]),
        (facts(0, (0, 500), (0, 700)), [("CHARGING", 0, 200)]),
        (facts(0), [("CHARGING", 0, 0)]),
    ],
    ids=["no reading", "one reading", "no length", "all at once", "nothing"],
)
def test_little_is_known(known: SessionFacts, expected: list[tuple[str, int, int]]) -> None:
    assert pieces(known) == expected


def test_what_cannot_be() -> None:
    with pytest.raises(InvalidInput, match="registers: fall from 3000 Wh to 2000 Wh"):
        session_curve(facts(60, (0, 1000), (10, 3000), (20, 2000)), UTC_ZONE)
    with pytest.raises(InvalidInput, match=r"end: .* is before the start"):
        session_curve(facts(-1), UTC_ZONE)


def test_prices_follow_the_site_s_clock(tariff: Make) -> None:
    """Night begins at 23:00 in Oslo, 22:00 UTC: half of 8 kWh by day, half by night."""
    tariff_ = tariff(
        ({"start_time": "23:00"}, ("ENERGY", Decimal("0.5"), 1, 25)), (None, ("ENERGY", 1, 1, 25))
    )
    start = datetime(2026, 1, 15, 21, tzinfo=UTC)
    known = SessionFacts(
        start=start,
        end=start + timedelta(hours=2),
        registers=[Reading(start, 0), Reading(start + timedelta(hours=2), 8000)],
    )
    priced = session_cost(tariff_, known, "Europe/Oslo")
    assert [(int(line.quantity), str(line.price)) for line in priced.lines] == [(4, "1"), (4, "0.5")]
    assert priced.totals.payable.text() == "7.50"


def test_the_month_s_end_is_at_local_midnight(tariff: Make) -> None:
    """Registers 5000.000 at 22:00, 5012.400 at midnight, 5021.000 at 02:00: 12.4 and 8.6 kWh."""
    start = datetime(2026, 1, 31, 21, tzinfo=UTC)
    known = SessionFacts(
        start=start,
        end=start + timedelta(hours=4),
        registers=[
            Reading(start + timedelta(hours=2 * i), wh)
            for i, wh in enumerate((5_000_000, 5_012_400, 5_021_000))
        ],
    )
    by_month = tariff(
        ({"end_date": "2026-02-01"}, ("ENERGY", 1)), ({"start_date": "2026-02-01"}, ("ENERGY", 2))
    )
    lines = session_cost(by_month, known, "Europe/Amsterdam").lines
    assert [line.quantity for line in lines] == [Fraction("12.4"), Fraction("8.6")]


minutes = st.integers(-5, 125)
intervals = st.lists(
    st.builds(lambda a, b: Interval(at(min(a, b)), at(max(a, b))), minutes, minutes), max_size=3
)


@settings(deadline=None)
@given(
    st.lists(st.tuples(minutes, st.integers(0, 5000)), min_size=1, max_size=8),
    st.integers(0, 120),
    intervals,
    intervals,
)
def test_pieces_sum_to_stop_minus_start(
    steps: list[tuple[int, int]], length: int, idle: Sequence[Interval], paused: Sequence[Interval]
) -> None:
    register, readings = 70_000, []
    first = register + min(steps)[1]
    for minute, wh in sorted(steps):
        register += wh
        readings.append(Reading(at(minute), register))
    known = SessionFacts(start=NOON, end=at(length), registers=readings, idle=idle, paused=paused)
    segments = session_curve(known, UTC_ZONE).segments
    assert sum(s.energy_wh for s in segments) == register - first
    assert sum(s.duration_s for s in segments) == length * 60
    paused_s = sum(s.duration_s for s in segments if s.kind is SegmentKind.PAUSED)
    covered = {m for m in range(length) if any(i.start <= at(m) and i.end and at(m) < i.end for i in paused)}
    assert paused_s == 60 * len(covered)
