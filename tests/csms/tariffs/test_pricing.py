"""How elements are chosen, switched and rounded; the standard's own figures are in tests/published."""

from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.money import Currency
from csms.tariffs.bill import Phase, Priced, decimal_text
from csms.tariffs.component import Dimension, PriceComponent
from csms.tariffs.conditions import DayOfWeek, Restrictions
from csms.tariffs.curve import Curve, ReservationOutcome, Segment, SegmentKind
from csms.tariffs.pricing import price
from csms.tariffs.tariff import Element, Tariff

Make = Callable[..., dict[str, object]]
Quote = Callable[..., dict[str, Any]]


def brief(quote: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(line["dimension"], line["quantity"], line["price"]) for line in quote["lines"]]


def test_each_dimension_takes_its_own_first_element(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(
        ({"max_duration": 3600}, ("TIME", 1)),
        (None, ("TIME", 2), ("ENERGY", 3)),
        (None, ("ENERGY", 4), ("FLAT", 5)),
    )
    answer = quote(doc, ("CHARGING", 90, 6))
    assert brief(answer) == [
        ("FLAT", "1", "5"),
        ("ENERGY", "6", "3"),
        ("TIME", "60", "1"),
        ("TIME", "30", "2"),
    ]
    assert answer["total_excl_vat"] == "25.00"


def test_reasons_name_element_conditions_and_rounding(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(
        ({"day_of_week": ["SATURDAY"]}, ("TIME", 9)), ({"start_time": "09:00"}, ("TIME", 1, 600))
    )
    (line,) = quote(doc, ("CHARGING", 12, 1))["lines"]
    assert line["reason"] == (
        "elements[1] is the first with TIME that applies: from 09:00 to 24:00; "
        "8 min added to bill whole blocks of 600 s"
    )


@pytest.mark.parametrize(
    ("kwh", "expected"),
    [
        ("9.999", [("9.999", "1")]),
        ("10", [("10", "1")]),
        ("10.001", [("10", "1"), ("0.001", "2")]),
        ("25", [("10", "1"), ("10", "2"), ("5", "3")]),
    ],
)
def test_energy_limits_cut_inside_a_segment(
    tariff_document: Make, quote: Quote, kwh: str, expected: list[tuple[str, str]]
) -> None:
    doc = tariff_document(
        ({"max_kwh": 10}, ("ENERGY", 1)),
        ({"min_kwh": 10, "max_kwh": 20}, ("ENERGY", 2)),
        ({"min_kwh": 20}, ("ENERGY", 3)),
    )
    answer = quote(doc, ("CHARGING", 60, Decimal(kwh)))
    assert [(q, p) for _, q, p in brief(answer)] == expected


def test_energy_limits_count_from_the_session_s_start(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(({"min_kwh": 5}, ("ENERGY", 2)))
    assert brief(quote(doc, ("CHARGING", 10, 4), ("PARKING", 10, 0), ("CHARGING", 10, 4))) == [
        ("ENERGY", "3", "2")
    ]


@pytest.mark.parametrize(
    ("start", "minutes", "billed"),
    [
        ("2024-01-15T22:00:00", 60, "60"),  # the first minute is in
        ("2024-01-15T05:00:00", 60, "60"),  # the last one is out
        ("2024-01-15T06:00:00", 60, None),
        ("2024-01-15T21:00:00", 600, "480"),  # over midnight
        ("2024-01-15T05:30:00", 1440, "480"),  # both ends of the window in one day
    ],
)
def test_a_window_over_midnight(
    tariff_document: Make, quote: Quote, start: str, minutes: int, billed: str | None
) -> None:
    doc = tariff_document(({"start_time": "22:00", "end_time": "06:00"}, ("TIME", 1)))
    lines = quote(doc, ("CHARGING", minutes, 1), start=start)["lines"]
    total = sum(Decimal(line["quantity"]) for line in lines)
    assert total == Decimal(billed or 0)


def test_two_visits_to_a_window_are_two_lines(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(({"start_time": "22:00", "end_time": "06:00"}, ("TIME", 1)))
    answer = quote(doc, ("CHARGING", 1440, 1), start="2024-01-15T05:30:00")
    assert brief(answer) == [("TIME", "30", "1"), ("TIME", "450", "1")]


@pytest.mark.parametrize(
    ("day", "hours"),
    [("2024-03-31", 23), ("2024-03-30", 24), ("2024-10-27", 25)],
    ids=["short day", "plain day", "long day"],
)
def test_a_local_day_has_the_hours_it_has(tariff_document: Make, quote: Quote, day: str, hours: int) -> None:
    """Summer time in the EU began on 31 March 2024 and ended on 27 October (Directive 2000/84/EC)."""
    end = f"{day[:-2]}{int(day[-2:]) + 1:02d}" if day != "2024-03-31" else "2024-04-01"
    doc = tariff_document(({"start_date": day, "end_date": end}, ("TIME", 1)))
    answer = quote(doc, ("CHARGING", 72 * 60, 1), start=f"{day[:-2]}{int(day[-2:]) - 1:02d}T12:00:00")
    assert brief(answer) == [("TIME", str(hours * 60), "1")]


def test_a_window_in_the_repeated_hour_holds_twice(tariff_document: Make, quote: Quote) -> None:
    """02:30 to 02:45 on the day summer time ends: the clock shows it twice, with a gap between."""
    doc = tariff_document(({"start_time": "02:30", "end_time": "02:45"}, ("TIME", 1)))
    answer = quote(doc, ("CHARGING", 300, 1), start="2024-10-27T00:00:00")
    assert brief(answer) == [("TIME", "15", "1"), ("TIME", "15", "1")]


def test_a_window_in_the_skipped_hour_never_holds(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(
        ({"start_time": "02:15", "end_time": "02:45"}, ("TIME", 1)),
        ({"start_time": "02:30", "end_time": "04:00"}, ("TIME", 2)),
    )
    answer = quote(doc, ("CHARGING", 300, 1), start="2024-03-31T00:00:00")
    assert brief(answer) == [("TIME", "60", "2")], "from 03:00, the first moment after 02:30 there is"


@pytest.mark.parametrize(
    ("current", "price"), [("31.9", "1"), ("32", "2"), ("48", "2"), (None, "1")], ids=str
)
def test_current_is_summed_over_the_lines(
    tariff_document: Make, quote: Quote, current: str | None, price: str
) -> None:
    """Unknown, it is the power at 230 V: 7.3 kW are 31.7 A whether on one line or three."""
    doc = tariff_document(({"max_current": 32}, ("ENERGY", 1)), ({"min_current": 32}, ("ENERGY", 2)))
    more = {} if current is None else {"current_a": Decimal(current)}
    answer = quote(doc, ("CHARGING", 60, Decimal("7.3"), more))
    assert brief(answer) == [("ENERGY", "7.3", price)]
    assert (answer["notes"][-1].startswith("segments[0].current_a")) == (current is None)


@pytest.mark.parametrize(("kwh", "price"), [("10.9", "1"), ("11", "2"), ("11.1", "2")])
def test_power_not_given_is_the_energy_over_its_time(
    tariff_document: Make, quote: Quote, kwh: str, price: str
) -> None:
    doc = tariff_document(({"max_power": 11}, ("ENERGY", 1)), ({"min_power": 11}, ("ENERGY", 2)))
    assert brief(quote(doc, ("CHARGING", 60, Decimal(kwh)))) == [("ENERGY", kwh, price)]


def test_duration_limits_count_pauses_and_parking(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(({"min_duration": 3600, "max_duration": 7200}, ("PARKING_TIME", 6)))
    answer = quote(doc, ("CHARGING", 20, 1), ("PAUSED", 20, 0), ("PARKING", 120, 0))
    assert brief(answer) == [("PARKING_TIME", "60", "6")]


def test_a_pause_of_ours_costs_no_time(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document((None, ("TIME", 6), ("PARKING_TIME", 12), ("ENERGY", 1)))
    answer = quote(doc, ("CHARGING", 10, 1), ("PAUSED", 500, 0), ("CHARGING", 10, 1), ("PARKING", 10, 0))
    assert brief(answer) == [
        ("ENERGY", "2", "1"),
        ("TIME", "10", "6"),
        ("TIME", "10", "6"),
        ("PARKING_TIME", "10", "12"),
    ]


@pytest.mark.parametrize(
    ("step", "kwh", "billed"),
    [(0, "1.2345", "1.2345"), (1, "1.2345", "1.235"), (500, "1.5", "1.5"), (500, "1.5001", "2")],
)
def test_step_size_rounds_up_and_leaves_multiples(
    tariff_document: Make, quote: Quote, step: int, kwh: str, billed: str
) -> None:
    doc = tariff_document((None, ("ENERGY", 1, step)))
    assert brief(quote(doc, ("CHARGING", 60, Decimal(kwh)))) == [("ENERGY", billed, "1")]


def test_only_priced_quantity_is_rounded(tariff_document: Make, quote: Quote) -> None:
    """7 of 20 minutes are priced: 10 are billed, not the 20 that would be a multiple already."""
    doc = tariff_document(({"max_duration": 420}, ("TIME", 1, 600)))
    assert brief(quote(doc, ("CHARGING", 20, 1))) == [("TIME", "10", "1")]


def test_the_step_is_that_of_the_component_used_last(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(({"max_kwh": 1}, ("ENERGY", 1, 1000)), (None, ("ENERGY", 2, 100)))
    assert brief(quote(doc, ("CHARGING", 60, Decimal("1.55")))) == [
        ("ENERGY", "1", "1"),
        ("ENERGY", "0.6", "2"),
    ]


def test_a_component_without_use_sets_no_step(tariff_document: Make, quote: Quote) -> None:
    """While parked the power is below 1 kW, but no energy is bought at that price."""
    doc = tariff_document(({"max_power": 1}, ("ENERGY", 9, 5000)), (None, ("ENERGY", 1, 100)))
    assert brief(quote(doc, ("CHARGING", 60, Decimal("7.01")), ("PARKING", 60, 0))) == [
        ("ENERGY", "7.1", "1")
    ]


def test_free_parking_after_charging_leaves_time_to_round(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document((None, ("TIME", 1, 600)))
    assert brief(quote(doc, ("CHARGING", 25, 1), ("PARKING", 60, 0))) == [("TIME", "30", "1")]


def test_time_before_parking_is_not_rounded(tariff_document: Make, quote: Quote) -> None:
    """OCPI, PriceComponent class, step_size: only the last of TIME and PARKING_TIME has its blocks billed."""
    doc = tariff_document((None, ("TIME", 1, 600), ("PARKING_TIME", 2, 900)))
    assert brief(quote(doc, ("CHARGING", 25, 1), ("PARKING", 7, 0))) == [
        ("TIME", "25", "1"),
        ("PARKING_TIME", "15", "2"),
    ]
    assert brief(quote(doc, ("CHARGING", 25, 1), ("PARKING", 7, 0), ("CHARGING", 1, 0))) == [
        ("TIME", "25", "1"),
        ("PARKING_TIME", "7", "2"),
        ("TIME", "5", "1"),
    ]


def test_what_was_passed_over_is_told(tariff_document: Make, quote: Quote) -> None:
    """The first kWh at night is cheap; at noon neither the hour holds nor, after 1 kWh, the energy."""
    doc = tariff_document(
        ({"start_time": "22:00", "max_kwh": 1}, ("ENERGY", 1)),
        ({"min_kwh": 1}, ("ENERGY", 2)),
        (None, ("ENERGY", 3)),
    )
    first, second = quote(doc, ("CHARGING", 60, 2))["lines"]
    assert (first["price"], second["price"]) == ("3", "2")
    assert first["passed_over"] == [
        {"element": 0, "does_not_hold": "from 22:00 to 24:00"},
        {"element": 1, "does_not_hold": "from 1 kWh"},
    ]
    assert second["passed_over"] == [{"element": 0, "does_not_hold": "from 22:00 to 24:00, below 1 kWh"}]


def test_one_start_fee_however_elements_switch(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(({"end_time": "12:30"}, ("FLAT", 1)), ({"start_time": "12:30"}, ("FLAT", 2)))
    assert brief(quote(doc, ("CHARGING", 60, 1))) == [("FLAT", "1", "1")]
    assert brief(quote(doc, ("CHARGING", 60, 1), start="2024-01-15T13:00:00")) == [("FLAT", "1", "2")]


def test_a_fee_that_applies_only_later(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(({"min_duration": 14400}, ("FLAT", 5)))
    assert brief(quote(doc, ("CHARGING", 239, 1))) == []
    assert brief(quote(doc, ("CHARGING", 241, 1))) == [("FLAT", "1", "5")]


def test_nothing_that_applies_costs_nothing(tariff_document: Make, quote: Quote) -> None:
    answer = quote(tariff_document(({"min_kwh": 100}, ("ENERGY", 1))), ("CHARGING", 60, 10))
    assert (answer["lines"], answer["total_excl_vat"]) == ([], "0.00")


def test_a_session_without_length_pays_the_fee(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document((None, ("FLAT", 1), ("TIME", 5), ("ENERGY", 2)))
    assert brief(quote(doc, ("CHARGING", 0, 0))) == [("FLAT", "1", "1")]
    assert brief(quote(doc, ("CHARGING", 0, 3))) == [("FLAT", "1", "1"), ("ENERGY", "3", "2")]


def test_negative_prices_are_credits(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document((None, ("ENERGY", Decimal("-0.05"), 1, 25)))
    answer = quote(doc, ("CHARGING", 60, 10))
    assert (answer["total_excl_vat"], answer["total_incl_vat"]) == ("-0.50", "-0.63"), "-0.625 away from zero"


RESERVATIONS = (
    ({"reservation": "RESERVATION_EXPIRES"}, ("TIME", 6, 600, 20)),
    ({"reservation": "RESERVATION"}, ("TIME", 3, 600, 20), ("FLAT", 1, 1, 20)),
    (None, ("FLAT", 2, 1, 20), ("TIME", 60, 1, 20)),
)


def test_an_expired_reservation_is_priced_by_its_own_element_first(
    tariff_document: Make, quote: Quote
) -> None:
    """OCPI "reservation time and expire time": 1.5 h at 6.00 are 9.00 and 10.80; the fee is ours."""
    answer = quote(tariff_document(*RESERVATIONS), ("RESERVATION", 90, 0))
    assert brief(answer) == [("FLAT", "1", "1"), ("RESERVATION_TIME", "90", "6")]
    assert answer["total_incl_vat"] == "12.00"


def test_a_used_reservation_and_its_session_are_rounded_apart(tariff_document: Make, quote: Quote) -> None:
    answer = quote(tariff_document(*RESERVATIONS), ("RESERVATION", 22, 0), ("CHARGING", 7, 1))
    assert brief(answer) == [
        ("FLAT", "1", "1"),
        ("FLAT", "1", "2"),
        ("RESERVATION_TIME", "30", "3"),
        ("TIME", "7", "60"),
    ]


def test_a_reservation_clock_does_not_run_into_the_session(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(({"min_duration": 600}, ("TIME", 1)))
    assert brief(quote(doc, ("RESERVATION", 60, 0), ("CHARGING", 15, 1))) == [("TIME", "5", "1")]


def test_min_price_is_for_sessions_max_price_for_all(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(
        *RESERVATIONS, min_price={"excl_vat": 100}, max_price={"excl_vat": 150, "incl_vat": 180}
    )
    assert quote(doc, ("RESERVATION", 30, 0))["total_excl_vat"] == "4.00"
    assert quote(doc, ("CHARGING", 10, 1))["total_excl_vat"] == "100.00"
    assert quote(doc, ("RESERVATION", 6000, 0))["total_incl_vat"] == "180.00"


# Parts sum to the whole -----------------------------------------------------------------------

ZONES = ("Europe/Amsterdam", "UTC", "Australia/Lord_Howe", "America/St_Johns")
RICH = Tariff(
    currency=Currency("EUR"),
    elements=(
        Element(
            components=(
                PriceComponent(
                    dimension=Dimension.ENERGY, price=Decimal("0.11"), vat_percent=Decimal(25), step_size=0
                ),
            ),
            restrictions=Restrictions(max_energy_kwh=Decimal("3.7"), days=frozenset({DayOfWeek.SUNDAY})),
        ),
        Element(
            components=(
                PriceComponent(
                    dimension=Dimension.TIME, price=Decimal("1.3"), vat_percent=Decimal(6), step_size=0
                ),
                PriceComponent(
                    dimension=Dimension.PARKING_TIME, price=Decimal(4), vat_percent=Decimal(6), step_size=0
                ),
            ),
            restrictions=Restrictions(min_duration_s=1000, max_duration_s=50_000),
        ),
        Element(
            components=(
                PriceComponent(
                    dimension=Dimension.ENERGY, price=Decimal("0.29"), vat_percent=Decimal(25), step_size=0
                ),
                PriceComponent(
                    dimension=Dimension.TIME, price=Decimal("0.7"), vat_percent=Decimal(25), step_size=0
                ),
                PriceComponent(
                    dimension=Dimension.PARKING_TIME, price=Decimal(3), vat_percent=Decimal(25), step_size=0
                ),
            ),
        ),
    ),
)
_naive = datetime.fromisoformat
STARTS = st.datetimes(_naive("2024-10-26"), _naive("2024-10-28")) | st.datetimes(
    _naive("2024-03-30"), _naive("2024-04-08")
)
SEGMENTS = st.lists(
    st.builds(
        lambda kind, seconds, wh: Segment(
            kind=kind, duration_s=Fraction(seconds), energy_wh=Fraction(wh if kind == "CHARGING" else 0)
        ),
        st.sampled_from([SegmentKind.CHARGING, SegmentKind.PARKING, SegmentKind.PAUSED]),
        st.integers(1, 90_000),
        st.integers(0, 20_000),
    ),
    min_size=1,
    max_size=4,
)


def curve_of(start: datetime, zone: str, segments: list[Segment]) -> Curve:
    return Curve(start=start.replace(tzinfo=UTC), zone=ZoneInfo(zone), segments=tuple(segments))


def used(priced: Priced, dimension: Dimension) -> Fraction:
    return sum((line.used for line in priced.lines if line.dimension is dimension), Fraction(0))


@settings(max_examples=150, deadline=None)
@given(STARTS, st.sampled_from(ZONES), SEGMENTS)
def test_energy_and_time_are_billed_whole(start: datetime, zone: str, segments: list[Segment]) -> None:
    """In any zone, over days of 23 and 25 hours, as the last element takes what the others leave."""
    priced = price(RICH, curve_of(start, zone, segments))
    assert used(priced, Dimension.ENERGY) == sum(s.energy_wh for s in segments) / 1000
    for dimension, kind in (
        (Dimension.TIME, SegmentKind.CHARGING),
        (Dimension.PARKING_TIME, SegmentKind.PARKING),
    ):
        assert (
            used(priced, dimension)
            == sum((s.duration_s for s in segments if s.kind is kind), Fraction(0)) / 60
        )


@settings(max_examples=150, deadline=None)
@given(STARTS, st.sampled_from(ZONES), SEGMENTS, st.fractions(0, 1, max_denominator=9973), st.data())
def test_a_cut_anywhere_changes_nothing(
    start: datetime, zone: str, segments: list[Segment], at: Fraction, data: st.DataObject
) -> None:
    """A segment split in two prices as before: the same lines, exactly, not only to the cent."""
    i = data.draw(st.integers(0, len(segments) - 1))
    halves = [segments[i].part(Fraction(0), at), segments[i].part(at, Fraction(1))]
    split = [*segments[:i], *halves, *segments[i + 1 :]]
    whole, cut = price(RICH, curve_of(start, zone, segments)), price(RICH, curve_of(start, zone, split))
    assert [(line.element, line.used, line.cost) for line in whole.lines] == [
        (line.element, line.used, line.cost) for line in cut.lines
    ]
    assert whole.totals == cut.totals


@settings(max_examples=100, deadline=None)
@given(STARTS, SEGMENTS)
def test_totals_and_vat_groups_add_up(start: datetime, segments: list[Segment]) -> None:
    priced = price(RICH, curve_of(start, "Europe/Amsterdam", segments))
    totals = priced.totals
    assert totals.incl is not None
    assert sum(group.net.minor for group in totals.groups) == totals.excl.minor
    assert sum(group.gross.minor for group in totals.groups) == totals.incl.minor
    exact = sum((line.cost.excl for line in priced.lines), Fraction(0))
    assert abs(totals.excl.minor - exact * 100) <= Fraction(1, 2)


def test_outcome_used_without_session_is_no_expiry() -> None:
    """A used reservation priced apart from its session keeps its own price."""
    tariff = Tariff(
        currency=Currency("EUR"),
        elements=(Element(components=(PriceComponent(dimension=Dimension.TIME, price=Decimal(1)),)),),
    )
    reserved = Segment(kind=SegmentKind.RESERVATION, duration_s=Fraction(60))
    curve = Curve(
        start=datetime(2024, 1, 1, tzinfo=UTC),
        zone=ZoneInfo("UTC"),
        segments=(reserved,),
        outcome=ReservationOutcome.USED,
    )
    assert not curve.expired
    assert price(tariff, curve).lines == (), "an element without reservation does not price one"
    assert Phase.RESERVATION == "RESERVATION"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction(5), "5"),
        (Fraction(100), "100"),
        (Fraction(3, 8), "0.375"),
        (Fraction(1, 6), "0.166667"),
        (Fraction(-1, 2), "-0.5"),
        (Fraction(0), "0"),
    ],
)
def test_decimal_text(value: Fraction, text: str) -> None:
    assert decimal_text(value) == text
