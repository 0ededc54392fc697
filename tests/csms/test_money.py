"""Amounts: minor units, one rounding, nothing lost in sharing."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.errors import InvalidInput
from csms.money import CURRENCIES, Currency, Money, apportion, half_up, share

EUR, JPY, KWD, SEK = Currency("EUR"), Currency("JPY"), Currency("KWD"), Currency("SEK")


def test_exponents_are_those_of_iso_4217() -> None:
    """ISO 4217 list one, from memory: the currencies whose minor unit is not a hundredth."""
    whole = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
    thousandth = "BHD IQD JOD KWD LYD OMR TND"
    for exponent, codes in ((0, whole), (3, thousandth), (4, "CLF UYW")):
        assert {code for code, n in CURRENCIES.items() if n == exponent} == set(codes.split())
    assert set(CURRENCIES.values()) == {0, 2, 3, 4}
    assert all(len(code) == 3 and code.isupper() for code in CURRENCIES)


@pytest.mark.parametrize("code", ["eur", "EURO", "XYZ", ""])
def test_an_unknown_currency_is_named(code: str) -> None:
    with pytest.raises(InvalidInput, match=r"^currency: .*ISO 4217"):
        Currency(code)


@pytest.mark.parametrize(
    ("amount", "currency", "minor", "text"),
    [
        ("4.997", EUR, 500, "5.00"),
        ("12.375", EUR, 1238, "12.38"),
        ("0.005", EUR, 1, "0.01"),
        ("-0.005", EUR, -1, "-0.01"),
        ("0.0049999999999999999999", EUR, 0, "0.00"),
        ("1234.5", JPY, 1235, "1235"),
        ("1.2345", KWD, 1235, "1.235"),
    ],
)
def test_rounding_is_half_up_to_the_minor_unit(
    amount: str, currency: Currency, minor: int, text: str
) -> None:
    money = Money.from_decimal(Decimal(amount), currency)
    assert (money.minor, money.text(), str(money)) == (minor, text, f"{text} {currency}")


def test_a_third_is_rounded_once() -> None:
    assert Money.from_decimal(Fraction(1, 3), EUR).minor == 33
    assert Money.from_decimal(Fraction(2, 3), EUR).minor == 67


@given(st.integers(-(10**12), 10**12))
def test_decimal_and_back(minor: int) -> None:
    for currency in (EUR, JPY, KWD):
        money = Money(minor, currency)
        assert Money.from_decimal(money.to_decimal(), currency) == money


@pytest.mark.parametrize("value", [0.1, True, "1", Decimal(1)])
def test_only_whole_minor_units_make_money(value: object) -> None:
    with pytest.raises(TypeError, match="minor units"):
        Money(value, EUR)  # type: ignore[arg-type]


def test_floats_and_nan_make_no_money() -> None:
    with pytest.raises(TypeError, match="float"):
        Money.from_decimal(0.1, EUR)  # type: ignore[arg-type]
    with pytest.raises(InvalidInput, match="amount"):
        Money.from_decimal(Decimal("NaN"), EUR)
    with pytest.raises(TypeError, match="Currency"):
        Money(1, "EUR")  # type: ignore[arg-type]


def test_arithmetic_stays_in_one_currency() -> None:
    assert Money(150, EUR) + Money(250, EUR) == Money(400, EUR)
    assert Money(150, EUR) - Money(250, EUR) == -Money(100, EUR)
    assert Money(1, EUR) < Money(2, EUR) <= Money(2, EUR)
    assert Money.zero(SEK) == Money(0, SEK) != Money(0, EUR)
    for mix in (lambda: Money(1, EUR) + Money(1, SEK), lambda: Money(1, EUR) < Money(1, SEK)):
        with pytest.raises(InvalidInput, match="different currencies"):
            mix()
    with pytest.raises(TypeError, match="no amount of money"):
        Money(1, EUR) + 1  # type: ignore[operator]


def test_shares_of_the_bakery_garage() -> None:
    """An invented month: 462.00 by kWh, and 121.50 equally among four flats, where ties go by id."""
    kwh: dict[str, Decimal | int] = {
        "A": Decimal("320.4"),
        "B": Decimal("250.1"),
        "C": Decimal("180.0"),
        "D": 0,
        "GUEST": Decimal("211.9"),
    }
    shares = share(Money(46200, EUR), kwh)
    assert {key: part.minor for key, part in shares.items()} == {
        "A": 15381,
        "B": 12006,
        "C": 8641,
        "D": 0,
        "GUEST": 10172,
    }
    equal = share(Money(12150, EUR), {"D": 1, "C": 1, "B": 1, "A": 1})
    assert [part.minor for part in equal.values()] == [3038, 3038, 3037, 3037]
    assert list(equal) == ["A", "B", "C", "D"]


def test_a_credit_mirrors_its_debit() -> None:
    weights = {"A": 1, "B": 1, "C": 1}
    debit, credit = share(Money(100, EUR), weights), share(Money(-100, EUR), weights)
    assert [part.minor for part in debit.values()] == [34, 33, 33]
    assert {key: -part for key, part in debit.items()} == credit


def test_what_cannot_be_shared() -> None:
    with pytest.raises(InvalidInput, match=r"weights\.B: .*negative"):
        share(Money(100, EUR), {"A": 1, "B": -1})
    with pytest.raises(InvalidInput, match="all weights are zero"):
        share(Money(100, EUR), {"A": 0, "B": 0})
    assert share(Money(0, EUR), {"A": 0, "B": 0}) == {"A": Money(0, EUR), "B": Money(0, EUR)}


@given(
    st.integers(-(10**9), 10**9),
    st.dictionaries(st.integers(0, 99), st.fractions(0, 1000, max_denominator=997), min_size=1, max_size=12),
)
def test_shares_sum_to_the_whole_and_are_near_their_due(total: int, weights: dict[int, Fraction]) -> None:
    whole = sum(weights.values())
    if not whole:
        weights = dict.fromkeys(weights, Fraction(1))
        whole = sum(weights.values())
    parts = share(Money(total, EUR), weights)
    assert sum(part.minor for part in parts.values()) == total
    assert all(abs(parts[key].minor - total * weights[key] / whole) < 1 for key in weights)


def test_apportion_refuses_a_total_that_is_no_rounding() -> None:
    assert apportion(1, [Fraction(1, 2), Fraction(1, 2)]) == [1, 0]
    assert apportion(-1, [Fraction(-1, 2), Fraction(-1, 2)]) == [0, -1]
    with pytest.raises(ValueError, match="not a rounding"):
        apportion(5, [Fraction(1, 2), Fraction(1, 2)])


@given(st.fractions(-1000, 1000))
def test_half_up_is_nearest_and_symmetric(value: Fraction) -> None:
    assert abs(half_up(value) - value) <= Fraction(1, 2)
    assert half_up(-value) == -half_up(value)
