"""Every worked figure of the OCPI tariff text, to the cent.

Source: OCPI 2.2.1 and 2.3.0, modules tariffs, cdrs, sessions and payments; each test's id names
the section, `ocpi_tariff_examples.json` beside this file holds the standard's values, what its
text leaves open (`assumed`) and where its editions contradict each other (`inconsistency`).
Those with status `derived` follow from a rule of the standard that has no example of its own.
"""

from collections.abc import Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from csms.money import Currency, Money
from csms.tariffs.component import round_up
from csms.tariffs.document import load_json
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.quote import price_document
from csms.tariffs.tax import split_cost, total
from csms.tariffs.writing import Edition, write_tariff

Example = Mapping[str, Any]

FILE = Path(__file__).with_name("ocpi_tariff_examples.json")
EXAMPLES: list[Example] = load_json(FILE.read_text(encoding="utf-8"), FILE.name)["examples"]  # type: ignore[index]
BY_ID = {example["id"]: example for example in EXAMPLES}
CENT = Decimal("0.01")


def label(example: Example, edition: str = "") -> str:
    source: str = example["source"]
    section = source.split('"')[1] if '"' in source else source.removeprefix("derived from OCPI rule: ")
    return " ".join(part for part in (example["id"], edition, section) if part)


def _sessions() -> Iterator[Any]:
    for example in EXAMPLES:
        if "segments" in (example["session"] or {}):
            for name in ("tariff", "tariff_2_3_0"):
                if name in example:
                    edition = "2.3.0" if "tax_included" in example[name] else "2.2.1"
                    yield pytest.param(example, example[name], id=label(example, edition))


SESSIONS = list(_sessions())


def to_cents(written: str) -> Decimal:
    """The texts show exact or rounded figures; a bill has cents, half up (T10: 4.997 is 5.00)."""
    return Decimal(written).quantize(CENT, ROUND_HALF_UP)


def test_no_example_is_left_out() -> None:
    """38 in all: 27 whole sessions here, the rest by name below."""
    whole = {parameter.values[0]["id"] for parameter in SESSIONS}
    single = {"P01", "P02", "P03", "P04a", "P04b", "P05"}
    identities = {"T11", "SE01", "SE02", "SE03", "PY01"}
    assert whole | single | identities == set(BY_ID)
    assert len(whole) == 27


@pytest.mark.parametrize(("example", "tariff"), SESSIONS)
def test_session(example: Example, tariff: object) -> None:
    session = dict(example["session"])
    if "price_override" in example:
        session["price_override"] = example["price_override"]
    quote: Any = price_document(tariff, session)
    expected = example["expected"]
    computed = expected.get("computed", {})
    totals = expected if "total_excl_vat" in expected else computed
    assert Decimal(quote["total_excl_vat"]) == to_cents(totals["total_excl_vat"])
    incl = (
        expected.get("total_incl_vat") or computed.get("total_incl_vat") or expected.get("total_after_taxes")
    )
    if incl is None:
        assert quote["total_incl_vat"] is None
    else:
        assert Decimal(quote["total_incl_vat"]) == to_cents(incl)
    assert len(quote["lines"]) == len(expected["billed"])
    for line, billed in zip(quote["lines"], expected["billed"], strict=True):
        assert line["dimension"] == billed["dimension"]
        assert line["unit"] == billed["unit"]
        assert line["phase"] == billed.get("phase", "SESSION")
        assert Decimal(line["quantity"]) == Decimal(billed["quantity"])
        assert Decimal(line["price"]) == Decimal(billed["price"])
        rate = billed.get("vat_percent")
        assert line["vat_percent"] == (None if rate is None else float(rate))
        four = Decimal("0.0001")  # a CDR's numbers have four decimals
        assert Decimal(line["cost_excl_vat"]).quantize(four, ROUND_HALF_UP) == Decimal(
            billed["cost_excl_vat"]
        )
        if billed.get("cost_incl_vat") is not None:
            assert Decimal(line["cost_incl_vat"]) == Decimal(billed["cost_incl_vat"])


@pytest.mark.parametrize(("example", "tariff"), SESSIONS)
def test_tariff_survives_the_exchange(example: Example, tariff: dict[str, object]) -> None:
    """What we read we write back, field for field."""
    edition = Edition.V2_3_0 if "tax_included" in tariff else Edition.V2_2_1
    assert write_tariff(parse_tariff(tariff), edition) == tariff


@pytest.mark.parametrize("example", [pytest.param(e, id=label(e)) for e in EXAMPLES if "tariff_2_3_0" in e])
def test_editions_say_the_same(example: Example) -> None:
    """A 2.2.1 tariff written as 2.3.0 is the standard's own 2.3.0 example, and back."""
    old, new = example["tariff"], example["tariff_2_3_0"]
    assert write_tariff(parse_tariff(old), Edition.V2_3_0) == new
    assert write_tariff(parse_tariff(new), Edition.V2_2_1) == old


@pytest.mark.parametrize("name", ["P01", "P02", "P03", "P04a", "P04b", "P05"], ids=lambda n: label(BY_ID[n]))
def test_step_size(name: str) -> None:
    """Blocks of one dimension. P01 and P02 give no price, so 1 per hour stands in; P03 to P05 do."""
    example = BY_ID[name]
    component = {"price": Decimal("1.0"), **example["tariff"]["elements"][0]["price_components"][0]}
    used = Decimal(example["session"]["quantity"])
    energy = example["session"]["unit"] == "Wh"
    segment: dict[str, object] = {
        "kind": "PARKING" if component["type"] == "PARKING_TIME" else "CHARGING",
        "duration_s": 3600 if energy else used * 60,
        "energy_kwh": used / 1000 if energy else 0,
    }
    quote: Any = price_document(
        {"currency": "EUR", "elements": [{"price_components": [component]}]},
        {"start_local": "2024-01-15T12:00:00", "time_zone": "Europe/Amsterdam", "segments": [segment]},
    )
    (line,) = quote["lines"]
    expected = example["expected"]
    assert Decimal(line["quantity"]) * (1000 if energy else 1) == Decimal(expected["billed_quantity"])
    if expected["cost_excl_vat"] is not None:
        exact = Decimal(line["cost_excl_vat"])
        assert Fraction(exact) == Fraction(expected["computed"]["exact"])
        assert exact.quantize(Decimal("0.001"), ROUND_HALF_UP) == Decimal(expected["cost_excl_vat"])


def test_step_size_range() -> None:
    """PriceComponent class, step_size notes: 101 to 125 Wh are billed as 125 Wh, 1 to 500 as 500."""
    assert {round_up(Fraction(wh), 25) for wh in range(101, 126)} == {125}
    assert {round_up(Fraction(wh), 500) for wh in range(1, 501)} == {500}


def test_t11_price_identities() -> None:
    """ "Ad-Hoc Tariff example not possible with OCPI": the fee is 0.50 with VAT, an hour 2.00."""
    example = BY_ID["T11"]
    quote: Any = price_document(
        example["tariff"],
        {
            "start_local": "2024-01-15T12:00:00",
            "time_zone": "Europe/Amsterdam",
            "segments": [{"kind": "CHARGING", "duration_s": 3600}],
        },
    )
    fee, hour = quote["lines"]
    assert Decimal(fee["cost_incl_vat"]) == Decimal(example["expected"]["start_fee_incl_vat_credit_card"])
    assert Decimal(hour["cost_incl_vat"]) == Decimal(example["expected"]["computed"]["1.90*1.052"])
    assert to_cents(hour["cost_incl_vat"]) == Decimal(example["expected"]["hour_incl_vat_rounded"])


@pytest.mark.parametrize("name", ["SE01", "SE02", "SE03", "PY01"], ids=lambda n: label(BY_ID[n]))
def test_printed_totals_agree(name: str) -> None:
    """Examples that print a total without a tariff: 10 % VAT on the one is the other."""
    expected = BY_ID[name]["expected"]
    tariff = parse_tariff(
        {
            "currency": "EUR",
            "elements": [{"price_components": [{"type": "FLAT", "price": 1, "vat": 10, "step_size": 1}]}],
        }
    )
    rate = Decimal(10)
    totals = total([(rate, split_cost(Fraction(expected["total_excl_vat"]), rate, tariff))], tariff)
    assert totals.incl == Money.from_decimal(Decimal(expected["total_incl_vat"]), Currency("EUR"))
