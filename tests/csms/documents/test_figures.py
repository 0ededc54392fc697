"""How figures are written. The forms are those of Unicode's CLDR, which babel carries."""

from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from csms.documents.figures import Figures, settled
from csms.documents.language import Language
from csms.money import Currency, Money

EUR, OSLO = Currency("EUR"), ZoneInfo("Europe/Oslo")


def figures(language: Language) -> Figures:
    return Figures(language, OSLO)


@pytest.mark.parametrize(
    ("language", "written"),
    [
        (Language.GERMAN, "-1.234,50 €"),
        (Language.ENGLISH, "-€1,234.50"),
        (Language.NORWEGIAN, "-1 234,50 €"),
        (Language.SWEDISH, "-1 234,50 €"),
        (Language.DUTCH, "€ -1.234,50"),
        (Language.FRENCH, "-1 234,50 €"),
    ],
)
def test_an_amount(language: Language, written: str) -> None:
    shown = figures(language).money(Money(-123450, EUR))
    plain = shown.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert plain.replace("\N{MINUS SIGN}", "-") == written


@pytest.mark.parametrize(
    ("code", "minor", "written"), [("JPY", 1234, "1.234"), ("KWD", 1234567, "1.234,567")]
)
def test_a_currency_has_its_own_decimals(code: str, minor: int, written: str) -> None:
    assert written in figures(Language.GERMAN).money(Money(minor, Currency(code)))


def test_a_code_of_letters_stands_apart_from_its_number() -> None:
    """CLDR's currencySpacing, which babel 2.18 leaves out (seen: NOK142.20)."""
    assert figures(Language.ENGLISH).money(Money(14220, Currency("NOK"))) == "NOK\N{NO-BREAK SPACE}142.20"
    assert (
        figures(Language.NORWEGIAN)
        .money(Money(14220, Currency("NOK")))
        .endswith("142,20\N{NO-BREAK SPACE}kr")
    )


def test_a_neighbours_crown_is_told_by_its_code() -> None:
    """CLDR has "Nkr" for it in Swedish, which is what nobody writes on a bill."""
    swedish = figures(Language.SWEDISH)
    assert swedish.money(Money(14220, Currency("NOK"))) == "142,20\N{NO-BREAK SPACE}NOK"
    assert swedish.money(Money(14220, Currency("SEK"))) == "142,20\N{NO-BREAK SPACE}kr"


def test_halves_go_up_before_babel_can_round_them_to_even() -> None:
    """babel 2.18 gives 2.66 for 2.665 (seen); money.md asks for half up."""
    assert figures(Language.ENGLISH).number(Decimal("2.665"), 2) == "2.67"
    assert settled(Decimal("-0.125"), 2) == Decimal("-0.13")
    assert str(settled(5, 2)) == "5.00"


def test_a_rate_has_the_decimals_it_needs_up_to_six() -> None:
    english = figures(Language.ENGLISH)
    assert english.rate(Decimal("0.1"), EUR) == "€0.10/kWh"
    assert english.rate(Decimal("0.24431287"), EUR, "") == "€0.244313"


def test_energy_and_percent() -> None:
    german = figures(Language.GERMAN)
    assert german.energy(Decimal("1320.4")) == "1.320,400\N{NO-BREAK SPACE}kWh"
    assert german.percent(Decimal("25.00")) == "25\N{NO-BREAK SPACE}%"
    assert german.percent(Decimal("5.5")) == "5,5\N{NO-BREAK SPACE}%"


def test_days() -> None:
    french = figures(Language.FRENCH)
    assert french.day(date(2026, 1, 3)) == "3 janvier 2026"
    assert french.days(date(2026, 1, 3), date(2026, 1, 3)) == "3 janvier 2026"
    assert "2026" in french.days(date(2026, 1, 10), date(2026, 1, 24))
    assert figures(Language.DUTCH).month(date(2026, 3, 1)) == "maart 2026"


def test_a_moment_is_told_in_the_sites_time() -> None:
    """UTC+1 in winter, UTC+2 in summer (IANA, Europe/Oslo)."""
    german = figures(Language.GERMAN)
    assert german.moment(datetime(2026, 1, 3, 23, 5, tzinfo=UTC)).endswith("4. Jan. 00:05")
    assert german.moment(datetime(2026, 7, 3, 21, 5, tzinfo=UTC)).endswith("23:05")
