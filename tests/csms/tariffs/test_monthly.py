"""Fees, capacity and the cap of a month."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest

from csms.errors import InvalidInput
from csms.tariffs.component import GUEST, Payer
from csms.tariffs.monthly import Month, MonthLine, month_lines
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.tariff import Tariff

Make = Callable[..., dict[str, object]]

FLAT_12 = Payer(member_id="flat-12", group_ids=frozenset({"residents"}))
FEE = {"type": "MONTHLY_FEE", "name": "Place", "amount": 6, "vat": 25}
CAPACITY = {"type": "CAPACITY_FEE", "name": "Peak", "price_per_kw": Decimal("46.20"), "vat": 25}


@pytest.fixture
def of(tariff_document: Make) -> Callable[..., Tariff]:
    def made(*components: dict[str, object], **fields: object) -> Tariff:
        doc = tariff_document((None, ("ENERGY", Decimal("0.3"), 1, 25)), **fields)
        return parse_tariff({**doc, "phaseyard": {"components": list(components)}})

    return made


def month(**fields: object) -> Month:
    return Month(**{"payer": FLAT_12, "days": 31, "days_there": 31, **fields})  # type: ignore[arg-type]


def brief(lines: tuple[MonthLine, ...]) -> list[tuple[str, Fraction, Fraction]]:
    return [(line.word, line.quantity, line.cost.excl) for line in lines]


def test_a_month_that_is_not_whole(of: Callable[..., Tariff]) -> None:
    whole = month_lines(of(FEE), month())
    assert brief(whole) == [("MONTHLY_FEE", Fraction(1), Fraction(6))]
    (line,) = month_lines(of(FEE), month(days_there=10))
    assert (line.quantity, line.cost.excl, line.reason) == (
        Fraction(10, 31),
        Fraction(60, 31),
        "10 of 31 days",
    )
    assert line.cost.incl == Fraction(75, 31)


def test_two_halves_of_a_month_make_the_fee(of: Callable[..., Tariff]) -> None:
    """Moved out on the 11th, the next one in."""
    halves = [month_lines(of(FEE), month(days_there=days))[0].cost.excl for days in (10, 21)]
    assert sum(halves) == 6


def test_capacity_goes_by_the_share_of_the_peak(of: Callable[..., Tariff]) -> None:
    (line,) = month_lines(of(CAPACITY), month(peak_kw=Fraction("2.5")))
    assert (line.quantity, line.unit, line.cost.excl) == (Fraction("2.5"), "kW", Fraction("115.5"))
    with pytest.raises(InvalidInput, match="peak_kw: is not known, and 'Peak' is charged by it"):
        month_lines(of(CAPACITY), month())


def test_a_cap_takes_off_what_is_above_it(of: Callable[..., Tariff]) -> None:
    cap = {"type": "CAP", "name": "At most", "amount": 40, "per": "MONTH", "groups": ["residents"]}
    capped = of(FEE, cap)
    sessions = {Decimal(25): Fraction(44), Decimal(12): Fraction(30)}
    lines = month_lines(capped, month(sessions=sessions))
    assert brief(lines)[1:] == [("CAP", Fraction(-1), Fraction(-15)), ("CAP", Fraction(-1), Fraction(-25))]
    assert sum(sessions.values()) + sum(line.cost.excl for line in lines) == 40
    assert [line.vat_percent for line in lines[1:]] == [12, 25]
    assert all(line.price > 0 for line in lines)
    assert brief(month_lines(capped, month(sessions={Decimal(25): Fraction(34)})))[1:] == []
    assert brief(month_lines(capped, month(sessions=sessions, payer=GUEST)))[1:] == []
    per_session = {**cap, "per": "SESSION"}
    assert len(month_lines(of(FEE, per_session), month(sessions=sessions))) == 1


def test_where_prices_hold_taxes_so_do_fees_and_the_cap_is_without(of: Callable[..., Tariff]) -> None:
    cap = {"type": "CAP", "name": "At most", "amount": 40, "per": "MONTH"}
    fee, off = month_lines(of(FEE, cap, tax_included="YES"), month(sessions={Decimal(25): Fraction(44)}))
    assert (fee.cost.excl, fee.cost.incl) == (Fraction("4.8"), Fraction(6))
    assert (off.cost.excl, off.price) == (Fraction("-8.8"), Fraction(11)), "44 and 4.80 make 48.80"


def test_a_month_has_days() -> None:
    with pytest.raises(InvalidInput, match="from 0 to the month's 31 days"):
        month(days_there=32)
