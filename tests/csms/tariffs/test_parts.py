"""Parts of a bill sum to the bill: quantities, exact costs, cents, at any cut."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from csms.tariffs.bill import Priced
from csms.tariffs.curve import Curve, Segment, SegmentKind
from csms.tariffs.parts import Part, split
from csms.tariffs.pricing import price
from csms.tariffs.tariff import Tariff

MakeTariff = Callable[..., Tariff]
START = datetime(2026, 1, 31, 21, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")


def bill(
    tariff: Tariff,
    *segments: tuple[SegmentKind, int, int],
    start: datetime = START,
    zone: ZoneInfo = BERLIN,
) -> Priced:
    made = [
        Segment(kind=kind, duration_s=Fraction(seconds), energy_wh=Fraction(wh))
        for kind, seconds, wh in segments
    ]
    return price(tariff, Curve(start=start, zone=zone, segments=tuple(made)))


def shown(part: Part) -> list[tuple[str, Decimal]]:
    return [(s.line.word, Decimal(float(s.quantity)).quantize(Decimal("0.001"))) for s in part.lines]


def test_fee_to_the_month_of_the_start_energy_and_time_to_their_own(tariff: MakeTariff) -> None:
    """22:00 to 02:00 with 21 kWh, of which 12.4 before midnight."""
    yard = tariff((None, ("FLAT", 1, 1, 25), ("ENERGY", Decimal("0.30"), 1, 25), ("TIME", 1, 3600, 25)))
    priced = bill(yard, (SegmentKind.CHARGING, 7200, 12_400), (SegmentKind.CHARGING, 7140, 8_600))
    january, february = split(priced, [START + timedelta(hours=2)])
    assert shown(january) == [("FLAT", Decimal(1)), ("ENERGY", Decimal("12.4")), ("TIME", Decimal(120))]
    assert shown(february) == [("ENERGY", Decimal("8.6")), ("TIME", Decimal(120))], (
        "with the minute that rounds"
    )
    assert [str(part.net) for part in (january, february)] == ["6.72 EUR", "4.58 EUR"]
    assert [str(part.gross) for part in (january, february)] == ["8.40 EUR", "5.73 EUR"]


def test_a_minimum_goes_pro_rata_and_without_use_to_the_start(tariff: MakeTariff) -> None:
    yard = tariff((None, ("ENERGY", 1, 1)), min_price={"excl_vat": 9})
    halves = split(bill(yard, (SegmentKind.CHARGING, 7200, 3000)), [START + timedelta(minutes=40)])
    assert [str(part.net) for part in halves] == ["3.00 EUR", "6.00 EUR"]
    idle = split(bill(yard, (SegmentKind.CHARGING, 7200, 0)), [START + timedelta(minutes=40)])
    assert [str(part.net) for part in idle] == ["9.00 EUR", "0.00 EUR"]


@pytest.mark.parametrize("minutes", [-5, 0, 120, 500])
def test_a_cut_outside_the_session_cuts_nothing(tariff: MakeTariff, minutes: int) -> None:
    priced = bill(tariff((None, ("ENERGY", 1, 1))), (SegmentKind.CHARGING, 7200, 3000))
    (whole,) = split(priced, [START + timedelta(minutes=minutes)])
    assert (whole.start, whole.end) == (START, START + timedelta(hours=2))
    assert whole.net == priced.totals.excl


def test_energy_that_took_no_time_is_not_lost(tariff: MakeTariff) -> None:
    priced = bill(
        tariff((None, ("ENERGY", 1, 1))), (SegmentKind.CHARGING, 0, 500), (SegmentKind.CHARGING, 60, 500)
    )
    assert [shown(part) for part in split(priced, [START + timedelta(seconds=30)])] == [
        [("ENERGY", Decimal("0.750"))],
        [("ENERGY", Decimal("0.250"))],
    ]


SEGMENTS = st.lists(
    st.tuples(
        st.sampled_from([SegmentKind.CHARGING, SegmentKind.PARKING, SegmentKind.PAUSED]),
        st.integers(0, 50_000),
        st.integers(0, 30_000),
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    segments=SEGMENTS,
    cuts=st.lists(st.integers(0, 200_000), max_size=6),
    rates=st.tuples(st.sampled_from([0, 7, 19, 25]), st.sampled_from([None, 7, 21])),
    limits=st.sampled_from(
        [{}, {"min_price": {"excl_vat": 40}}, {"max_price": {"excl_vat": 3, "incl_vat": 3}}]
    ),
    zone=st.sampled_from(["Europe/Berlin", "America/St_Johns", "Asia/Kathmandu"]),
    day=st.sampled_from([datetime(2026, 3, 28, 20, tzinfo=UTC), datetime(2026, 10, 24, 20, tzinfo=UTC)]),
)
def test_parts_sum_to_the_whole(
    tariff: MakeTariff,
    segments: Sequence[tuple[SegmentKind, int, int]],
    cuts: Sequence[int],
    rates: tuple[int, int | None],
    limits: dict[str, object],
    day: datetime,
    zone: str,
) -> None:
    """Nights in which summer time begins or ends, steps, limits, two VAT rates, credits."""
    yard = tariff(
        ({"start_time": "01:30", "end_time": "02:30"}, ("ENERGY", Decimal("-0.07"), 100, rates[1])),
        (None, ("FLAT", 1, 1, rates[1]), ("ENERGY", Decimal("0.31"), 1000, rates[0])),
        ({"min_duration": 5000}, ("PARKING_TIME", 3, 900, rates[0]), ("TIME", 1, 60, rates[1])),
        **limits,
    )
    priced = bill(yard, *segments, start=day, zone=ZoneInfo(zone))
    parts = split(priced, [day + timedelta(seconds=seconds) for seconds in cuts])
    assert parts[0].start == priced.start
    assert parts[-1].end == priced.end
    totals = priced.totals
    assert sum((part.net.minor for part in parts), 0) == totals.excl.minor
    assert sum((part.gross.minor for part in parts), 0) == totals.payable.minor
    for i, group in enumerate(totals.groups):
        assert sum(part.groups[i].net.minor for part in parts) == group.net.minor
        assert sum(part.groups[i].vat.minor for part in parts) == group.vat.minor
    for line in priced.lines:
        shares = [share for part in parts for share in part.lines if share.line is line]
        assert sum((share.quantity for share in shares), Fraction(0)) == line.quantity
        assert sum((share.cost.excl for share in shares), Fraction(0)) == line.cost.excl


def test_a_fee_is_due_at_the_start_wherever_the_first_cut_is(tariff: MakeTariff) -> None:
    priced = bill(tariff((None, ("FLAT", 1, 1))), (SegmentKind.CHARGING, 7200, 3000))
    first, second = split(priced, [START + timedelta(minutes=1)])
    assert (first.net.minor, second.net.minor) == (100, 0)
