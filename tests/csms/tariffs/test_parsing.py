"""OCPI tariffs read strictly; whole examples of the standard are in tests/published."""

import copy
import json
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.tariffs.components.spot import Spot
from csms.tariffs.conditions import DayOfWeek, ReservationRestriction, Restrictions
from csms.tariffs.document import load_json
from csms.tariffs.market.inputs import parse_source
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.tariff import PriceLimit, TariffType, TaxIncluded

Edit = Callable[[dict[str, Any]], object]

YARD: dict[str, Any] = {
    "country_code": "NL",
    "party_id": "WVY",
    "id": "yard-night",
    "currency": "EUR",
    "type": "REGULAR",
    "tariff_alt_text": [{"language": "en", "text": "Weavers' Yard, by night"}],
    "min_price": {"excl_vat": Decimal("0.5"), "incl_vat": Decimal("0.6")},
    "max_price": {"excl_vat": 50},
    "elements": [
        {
            "price_components": [
                {"type": "ENERGY", "price": Decimal("0.25"), "vat": 21, "step_size": 1},
                {"type": "TIME", "price": 1, "step_size": 300},
            ],
            "restrictions": {
                "start_time": "22:00",
                "end_time": "06:00",
                "start_date": "2026-01-01",
                "end_date": "2027-01-01",
                "min_kwh": 1,
                "max_kwh": 20,
                "min_current": 6,
                "max_current": 32,
                "min_power": 1,
                "max_power": 11,
                "min_duration": 60,
                "max_duration": 36000,
                "day_of_week": ["MONDAY", "SUNDAY"],
            },
        },
        {
            "price_components": [{"type": "FLAT", "price": 2, "vat": 21, "step_size": 1}],
            "restrictions": {"reservation": "RESERVATION_EXPIRES"},
        },
    ],
    "start_date_time": "2026-01-01T00:00:00Z",
    "end_date_time": "2026-12-31T23:00:00",
    "last_updated": "2025-12-01T09:00:00Z",
}


def test_every_field_is_read() -> None:
    tariff = parse_tariff(YARD, identified=True)
    assert (tariff.country_code, tariff.party_id, tariff.id) == ("NL", "WVY", "yard-night")
    assert tariff.type is TariffType.REGULAR
    assert tariff.tax_included is TaxIncluded.NO
    assert tariff.min_price == PriceLimit(excl=Decimal("0.5"), incl=Decimal("0.6"))
    assert tariff.max_price == PriceLimit(excl=Decimal(50))
    assert tariff.valid_from == datetime(2026, 1, 1, tzinfo=UTC)
    assert tariff.valid_until == datetime(2026, 12, 31, 23, tzinfo=UTC)
    assert tariff.particulars == {"tariff_alt_text": YARD["tariff_alt_text"]}
    energy, minutes = tariff.elements[0].components
    assert (energy.price, energy.vat_percent, energy.step_size) == (
        Decimal("0.25"),
        Decimal(21),
        1,
    )
    assert (minutes.vat_percent, minutes.step_size) == (None, 300)
    assert tariff.elements[0].restrictions == Restrictions(
        start_time=time(22),
        end_time=time(6),
        start_date=date(2026, 1, 1),
        end_date=date(2027, 1, 1),
        min_energy_kwh=Decimal(1),
        max_energy_kwh=Decimal(20),
        min_current_a=Decimal(6),
        max_current_a=Decimal(32),
        min_power_kw=Decimal(1),
        max_power_kw=Decimal(11),
        min_duration_s=60,
        max_duration_s=36000,
        days=frozenset({DayOfWeek.MONDAY, DayOfWeek.SUNDAY}),
    )
    assert tariff.elements[1].restrictions.reservation is ReservationRestriction.RESERVATION_EXPIRES


def test_zero_vat_is_not_no_vat() -> None:
    document = copy.deepcopy(YARD)
    document["elements"][0]["price_components"][0]["vat"] = Decimal("0.0")
    assert parse_tariff(document).elements[0].components[0].vat_percent == 0


def test_tax_included_tells_the_editions_apart() -> None:
    document = copy.deepcopy(YARD)
    document["tax_included"] = "YES"
    with pytest.raises(InvalidInput, match=r"^min_price\.excl_vat: not a field here; known are before_taxes"):
        parse_tariff(document)
    document["min_price"] = {"before_taxes": 1, "after_taxes": 2}
    document["max_price"] = {"before_taxes": 50}
    tariff = parse_tariff(document)
    assert tariff.tax_included is TaxIncluded.YES
    assert tariff.min_price == PriceLimit(excl=Decimal(1), incl=Decimal(2))
    del document["tax_included"]
    with pytest.raises(InvalidInput, match=r"^min_price\.before_taxes"):
        parse_tariff(document)


def test_our_own_tariff_needs_no_identity_a_partner_s_does() -> None:
    document = {"currency": "SEK", "elements": YARD["elements"]}
    assert parse_tariff(document).id is None
    with pytest.raises(InvalidInput, match=r"^tariff\.country_code: missing"):
        parse_tariff(document, "tariff", identified=True)


def component(document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = document["elements"][0]["price_components"][1]
    return found


def restrictions(document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = document["elements"][0]["restrictions"]
    return found


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (lambda d: d.pop("currency"), "currency: missing"),
        (lambda d: d.update(currency="EUX"), "currency: 'EUX' is not an ISO 4217 code"),
        (lambda d: d.update(currency=978), "currency: must be text, not a number"),
        (lambda d: d.pop("elements"), "elements: missing"),
        (lambda d: d.update(elements=[]), "elements: must have at least 1"),
        (lambda d: d.update(elements={}), "elements: must be a list, not an object"),
        (lambda d: d.update(elements=[3]), "elements[0]: must be an object, not a number"),
        (lambda d: d.update(colour="red"), "colour: not a field here"),
        (lambda d: d.update(type="CHEAP"), "type: must be one of AD_HOC_PAYMENT"),
        (lambda d: d.update(min_price=1), "min_price: must be an object, not a number"),
        (lambda d: d.update(min_price={"excl_vat": 60}), "max_price: 50 is below the min_price of 60"),
        (lambda d: d["min_price"].update(incl_vat=Decimal("0.4")), "min_price: the amount with VAT"),
        (lambda d: d.update(end_date_time="tomorrow"), "end_date_time: must be a time in UTC"),
        (lambda d: d.update(end_date_time="2025-01-01T00:00:00Z"), "end_date_time: the tariff ends before"),
        (lambda d: component(d).pop("type"), "elements[0].price_components[1].type: missing"),
        (
            lambda d: component(d).update(type="GAS"),
            "elements[0].price_components[1].type: must be one of ENERGY",
        ),
        (lambda d: component(d).pop("price"), "elements[0].price_components[1].price: missing"),
        (
            lambda d: component(d).update(price="1"),
            "elements[0].price_components[1].price: must be a number, not the text '1'",
        ),
        (
            lambda d: component(d).update(step_size=-1),
            "elements[0].price_components[1].step_size: must not be negative, is -1",
        ),
        (
            lambda d: component(d).update(step_size=Decimal("0.5")),
            "elements[0].price_components[1].step_size: must be a whole number",
        ),
        (lambda d: component(d).pop("step_size"), "elements[0].price_components[1].step_size: missing"),
        (
            lambda d: component(d).update(vat=Decimal("100.1")),
            "elements[0].price_components[1].vat: must be a percentage from 0 to 100",
        ),
        (
            lambda d: component(d).update(type="ENERGY"),
            "elements[0].price_components[1].type: ENERGY occurs twice",
        ),
        (lambda d: restrictions(d).update(max_kw=3), "elements[0].restrictions.max_kw: not a field here"),
        (
            lambda d: restrictions(d).update(start_time="24:00"),
            "elements[0].restrictions.start_time: must be a time of day such as 07:30, is '24:00'",
        ),
        (
            lambda d: restrictions(d).update(end_time="7:30"),
            "elements[0].restrictions.end_time: must be a time of day",
        ),
        (
            lambda d: restrictions(d).update(end_date="2026-04-31"),
            "elements[0].restrictions.end_date: must be a day of the calendar",
        ),
        (
            lambda d: restrictions(d).update(start_date="2026-1-31"),
            "elements[0].restrictions.start_date: must be a day of the calendar",
        ),
        (
            lambda d: restrictions(d).update(day_of_week=["SUNDAY", "FUNDAY"]),
            "elements[0].restrictions.day_of_week[1]: must be one of",
        ),
        (
            lambda d: restrictions(d).update(max_kwh=Decimal("0.5")),
            "elements[0].restrictions.max_kwh: must be above 1",
        ),
        (
            lambda d: d["elements"][1]["price_components"][0].update(type="ENERGY"),
            "elements[1].price_components[0].type: a reservation can cost FLAT and TIME only",
        ),
    ],
    ids=lambda value: value.split(":")[0] if isinstance(value, str) else "",
)
def test_what_is_wrong_is_named_by_its_path(edit: Edit, message: str) -> None:
    document = copy.deepcopy(YARD)
    edit(document)
    with pytest.raises(InvalidInput) as caught:
        parse_tariff(document)
    assert str(caught.value).startswith(message)
    with pytest.raises(InvalidInput) as below:
        parse_tariff(document, "tariff")
    assert str(below.value).startswith(f"tariff.{message}")


@pytest.mark.parametrize("value", [None, [], "tariff", 3])
def test_a_tariff_is_an_object(value: object) -> None:
    with pytest.raises(InvalidInput, match=r"^tariff: must be an object"):
        parse_tariff(value, "tariff")


SPOT: dict[str, Any] = {"type": "SPOT", "feed": "mill"}


def with_own(*components: object, **fields: object) -> dict[str, Any]:
    document = {**copy.deepcopy(YARD), "phaseyard": {"components": list(components)}, **fields}
    for name in ("min_price", "max_price"):
        document.pop(name)
    return document


def test_our_own_components_stand_beside_the_object() -> None:
    read = parse_tariff(with_own(SPOT))
    assert [type(own) for own in read.own] == [Spot]
    assert read.spot_of(0) is read.own[0]
    with pytest.raises(InvalidInput, match="phaseyard: not a field here"):
        parse_tariff(with_own(SPOT), identified=True)


@pytest.mark.parametrize(
    ("components", "problem"),
    [
        ([], "phaseyard.components: must have at least 1"),
        (["SPOT"], "phaseyard.components[0]: must be an object with a type"),
        ([{"feed": "x"}], "phaseyard.components[0].type: missing"),
        ([{"type": "TAX"}], "phaseyard.components[0].type: must be one of SPOT, MONTHLY_FEE, CAPACITY_FEE"),
        ([{**SPOT, "elements": [1]}], "phaseyard.components[0].elements[0]: elements[1] has no ENERGY"),
        ([{**SPOT, "elements": [0, 7]}], "phaseyard.components[0].elements[1]: elements[7] has no ENERGY"),
        ([SPOT, SPOT], "phaseyard.components[1].elements: elements[0] follows the market already"),
        (
            [{"type": "MONTHLY_FEE", "name": "Place", "amount": 5}],
            "phaseyard.components[0].vat: missing, and other prices name VAT",
        ),
    ],
)
def test_what_is_wrong_with_them_is_named(components: list[object], problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_tariff(with_own(*components))
    assert str(caught.value).startswith(problem)


def test_a_market_price_has_no_tax_in_it_and_no_blocks() -> None:
    with pytest.raises(InvalidInput, match="tax_included: is YES, but market prices are without taxes"):
        parse_tariff(with_own(SPOT, tax_included="YES"))
    coarse = with_own(SPOT)
    coarse["elements"][0]["price_components"][0]["step_size"] = 100
    with pytest.raises(InvalidInput, match=r"elements\[0\]\.price_components: ENERGY that follows"):
        parse_tariff(coarse)
    coarse["elements"] = coarse["elements"][1:]
    with pytest.raises(InvalidInput, match="no element has an ENERGY component"):
        parse_tariff(coarse)


def test_vat_of_a_fee_without_vat_elsewhere() -> None:
    fee = {"type": "MONTHLY_FEE", "name": "Place", "amount": 5, "vat": 25}
    bare = with_own(fee)
    for element in bare["elements"]:
        for component in element["price_components"]:
            component.pop("vat", None)
    with pytest.raises(InvalidInput, match="given, but no price component names VAT; name it there too"):
        parse_tariff(bare)


def test_the_readme_s_tariff_and_sources_are_read() -> None:
    text = Path("README.md").read_text(encoding="utf-8")
    section = text.partition("### Tariffs and market prices")[2].partition("\n### ")[0]
    tariff, sources = (block.partition("```")[0] for block in section.split("```json")[1:])
    read = parse_tariff(load_json(tariff, "README.md"))
    assert [own.type for own in read.own] == ["SPOT", "MONTHLY_FEE", "CAPACITY_FEE", "DISCOUNT", "CAP"]
    kinds = [parse_source(json.loads(line), "source").kind for line in sources.strip().splitlines()]
    assert kinds == ["folder", "url"]
