"""VAT per rate, limits on both totals, and cents that add up."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.tariffs.parsing import parse_tariff
from csms.tariffs.tariff import Tariff
from csms.tariffs.tax import Cost, Totals, split_cost, total

Make = Callable[..., Tariff]
Lines = list[tuple[Decimal | None, Cost]]


def at(excl: str, rate: int | None) -> tuple[Decimal | None, Cost]:
    net = Fraction(excl)
    return (None, Cost(net, net)) if rate is None else (Decimal(rate), Cost(net, net * (100 + rate) / 100))


def groups(totals: Totals) -> list[tuple[int | None, str, str]]:
    return [
        (None if group.vat_percent is None else int(group.vat_percent), group.net.text(), group.vat.text())
        for group in totals.groups
    ]


@pytest.fixture
def plain(tariff: Make) -> Make:
    return lambda **fields: tariff((None, ("FLAT", 1, 1, 20)), **fields)


def test_groups_by_rate_sum_to_the_totals(plain: Make) -> None:
    totals = total([at("1.005", 20), at("2.001", 10), at("1.005", 20)], plain())
    assert (totals.excl.text(), totals.vat.text(), totals.payable.text()) == ("4.01", "0.60", "4.61")
    assert groups(totals) == [(10, "2.00", "0.20"), (20, "2.01", "0.40")]
    assert totals.limit is None


def test_vat_is_what_lies_between_the_rounded_totals(plain: Make) -> None:
    """0.375 and 0.4125 (OCPI "0.25 per kWh + minimum price", before the minimum) are 0.38 and 0.41."""
    totals = total([at("0.375", 10)], plain())
    assert (totals.excl.text(), totals.vat.text(), totals.payable.text()) == ("0.38", "0.03", "0.41")


def test_a_limit_holds_each_total_on_its_own(plain: Make) -> None:
    """OCPI "start fee + max price": 50 kWh at 0.25 and 10 %, a fee of 0.50 at 20 %: 10.00 and 11.00."""
    capped = plain(max_price={"excl_vat": 10, "incl_vat": 11})
    totals = total([at("0.5", 20), at("12.5", 10)], capped)
    assert (totals.excl.text(), totals.payable.text(), totals.limit) == ("10.00", "11.00", "max_price")
    only_gross = total([at("9.9", 20)], capped)
    assert (only_gross.excl.text(), only_gross.payable.text()) == ("9.90", "11.00")


def test_a_limit_spreads_pro_rata_over_the_rates(plain: Make) -> None:
    """13.00 down to 10.00: 0.50 and 12.50 become 5/13 and 125/13, that is 0.38 and 9.62 in cents.
    Of the VAT of 1.00, the 0.10 and 1.25 before the limit take 2/27 and 25/27."""
    capped = plain(max_price={"excl_vat": 10, "incl_vat": 11})
    totals = total([at("0.5", 20), at("12.5", 10)], capped)
    assert groups(totals) == [(10, "9.62", "0.93"), (20, "0.38", "0.07")]


def test_a_limit_without_vat_lets_vat_follow(plain: Make) -> None:
    totals = total([at("6", 20), at("14", 10)], plain(max_price={"excl_vat": 10}))
    assert (totals.excl.text(), totals.payable.text()) == ("10.00", "11.30")
    assert groups(totals) == [(10, "7.00", "0.70"), (20, "3.00", "0.60")]


def test_a_limit_that_is_not_reached_changes_nothing(plain: Make) -> None:
    wide = plain(min_price={"excl_vat": 1}, max_price={"excl_vat": 10})
    totals = total([at("4", 20)], wide)
    assert (totals.excl.text(), totals.payable.text(), totals.limit) == ("4.00", "4.80", None)


def test_a_minimum_without_anything_billed(plain: Make) -> None:
    floor = plain(min_price={"excl_vat": Decimal("0.5"), "incl_vat": Decimal("0.55")})
    totals = total([], floor)
    assert (groups(totals), totals.limit) == ([(None, "0.50", "0.05")], "min_price")
    assert total([], floor, apply_min=False).payable.text() == "0.00"
    free = total([at("0", 10), at("0", 20)], floor)
    assert groups(free) == [(10, "0.00", "0.00"), (20, "0.50", "0.05")]


def test_credits_are_not_blown_up_by_a_limit(plain: Make) -> None:
    floor = plain(min_price={"excl_vat": 1})
    totals = total([at("-9.99", 10), at("10", 20)], floor)
    nets = [Decimal(net) for _, net, _ in groups(totals)]
    assert sum(nets) == Decimal("1.00")
    assert all(abs(net) < 11 for net in nets)


def test_a_line_without_rate(tariff: Make) -> None:
    """Silent throughout: not known. Silent beside others: not applicable (OCPI PriceComponent, vat)."""
    silent = tariff((None, ("FLAT", 1)))
    mixed = tariff((None, ("FLAT", 1), ("TIME", 1, 1, 20)))
    cost = Fraction(3)
    assert split_cost(cost, None, silent) == Cost(cost, None)
    assert split_cost(Fraction(0), None, silent) == Cost(Fraction(0), Fraction(0))
    assert split_cost(cost, None, mixed) == Cost(cost, cost)
    for word in ("YES", "N/A"):
        assert split_cost(cost, None, tariff((None, ("FLAT", 1)), tax_included=word)) == Cost(cost, cost)


def test_a_price_that_holds_its_tax(tariff: Make) -> None:
    held = tariff((None, ("FLAT", 12, 1, 20)), tax_included="YES")
    assert split_cost(Fraction(12), Decimal(20), held) == Cost(Fraction(10), Fraction(12))


def test_vat_that_is_not_known(tariff: Make) -> None:
    silent = tariff((None, ("FLAT", 1)), max_price={"excl_vat": 2, "incl_vat": 3})
    totals = total([(None, Cost(Fraction(5), None))], silent)
    assert (totals.excl.text(), totals.incl, totals.payable.text()) == ("2.00", None, "2.00")
    assert totals.vat.minor == 0


costs = st.lists(
    st.builds(
        lambda net, rate: (Decimal(rate), Cost(net, net * (100 + rate) / 100)),
        st.fractions(-50, 200, max_denominator=3600),
        st.sampled_from([0, 6, 10, 20, 25]),
    ),
    max_size=6,
)


@given(costs, st.integers(0, 3000), st.integers(0, 3000))
def test_groups_always_sum_to_totals_within_limits(lines: Lines, low: int, span: int) -> None:
    floor, ceiling = Decimal(low) / 100, Decimal(low + span) / 100
    limited = parse_tariff(
        {
            "currency": "EUR",
            "min_price": {"excl_vat": floor, "incl_vat": floor * 2},
            "max_price": {"excl_vat": ceiling, "incl_vat": ceiling * 2},
            "elements": [{"price_components": [{"type": "FLAT", "price": 1, "vat": 20, "step_size": 1}]}],
        }
    )
    totals = total(lines, limited)
    assert totals.incl is not None
    assert floor <= totals.excl.to_decimal() <= ceiling
    assert 2 * floor <= totals.incl.to_decimal() <= 2 * ceiling
    assert sum(group.net.minor for group in totals.groups) == totals.excl.minor
    assert sum(group.vat.minor for group in totals.groups) == totals.vat.minor
