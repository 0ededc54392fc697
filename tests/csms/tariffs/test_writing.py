"""The tariff object out again; round trips of the standard's examples are in tests/published."""

from collections.abc import Callable
from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.tariffs.document import dump_json, load_json
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.tariff import Tariff
from csms.tariffs.writing import Edition, exchanged, write_extension, write_tariff

Make = Callable[..., dict[str, object]]

RESTRICTED = {
    "start_time": "22:00",
    "end_time": "00:00",
    "start_date": "2026-01-01",
    "end_date": "2027-01-01",
    "min_kwh": 0,
    "max_kwh": Decimal("20.5"),
    "min_current": 6,
    "max_current": 32,
    "min_power": 0,
    "max_power": 11,
    "min_duration": 0,
    "max_duration": 36000,
    "day_of_week": ["MONDAY", "SUNDAY"],
}


def test_a_full_tariff_comes_back(tariff_document: Make) -> None:
    document = tariff_document(
        (RESTRICTED, ("ENERGY", Decimal("0.2500"), 1, 0)),
        ({"reservation": "RESERVATION"}, ("TIME", 1, 0)),
        country_code="NL",
        party_id="WVY",
        id="yard",
        type="PROFILE_GREEN",
        min_price={"before_taxes": 0, "after_taxes": 0},
        max_price={"before_taxes": 5},
        tax_included="N/A",
        start_date_time="2026-01-01T00:00:00Z",
        end_date_time="2027-01-01T00:00:00.500000Z",
        energy_mix={"is_green_energy": True},
        last_updated="2025-12-01T09:00:00Z",
    )
    written = write_tariff(parse_tariff(document), Edition.V2_3_0)
    assert written == document
    assert load_json(dump_json(written), "tariff") == document
    assert '"price":0.2500' in dump_json(written)


def test_what_2_2_1_cannot_say(tariff: Callable[..., Tariff]) -> None:
    held = tariff((None, ("FLAT", 1)), tax_included="YES")
    with pytest.raises(InvalidInput, match="tax_included: is YES"):
        write_tariff(held, Edition.V2_2_1)
    newer = tariff((None, ("FLAT", 1)), tax_included="NO", preauthorize_amount=50)
    assert "preauthorize_amount" in write_tariff(newer, Edition.V2_3_0)
    assert "preauthorize_amount" not in write_tariff(newer, Edition.V2_2_1)


OWN = {
    "components": [
        {"type": "SPOT", "feed": "mill", "factor": 1, "markup_per_kwh": Decimal("0.02")},
        {"type": "MONTHLY_FEE", "name": "Place", "amount": 6, "vat": 25},
        {"type": "CAPACITY_FEE", "name": "Peak", "price_per_kw": 46, "vat": 25},
        {"type": "DISCOUNT", "name": "Vans", "percent": 10, "groups": ["bakery"]},
        {"type": "CAP", "name": "At most", "amount": 40, "per": "MONTH"},
    ]
}


@pytest.mark.parametrize("edition", list(Edition))
def test_what_is_our_own_stays_at_home(tariff_document: Make, edition: Edition) -> None:
    """A partner gets an object that reads as one from a partner: no field that OCPI does not have."""
    fields = {"country_code": "NL", "party_id": "WVY", "id": "yard", "last_updated": "2025-12-01T09:00:00Z"}
    document = tariff_document((None, ("ENERGY", Decimal("0.30"), 1, 25)), **fields)
    own = parse_tariff({**document, "phaseyard": OWN})
    assert write_extension(own) == OWN
    written = write_tariff(own, edition)
    assert "phaseyard" not in written
    partner = parse_tariff(written, identified=True)
    assert partner.own == ()
    assert partner.elements == own.elements
    assert partner.particulars["tariff_alt_text"] == [
        {
            "language": "en",
            "text": "The price per kWh follows the day-ahead market; the one stated is a guide.",
        }
    ]


def test_a_partner_of_either_edition(tariff: Callable[..., Tariff]) -> None:
    plain, held = tariff((None, ("FLAT", 1))), tariff((None, ("FLAT", 1)), tax_included="YES")
    assert exchanged(plain) == write_tariff(plain, Edition.V2_2_1)
    assert exchanged(held) == write_tariff(held, Edition.V2_3_0)


def test_words_of_one_s_own_are_kept(tariff_document: Make) -> None:
    said = [{"language": "nl", "text": "Prijs volgt de beurs"}]
    document = tariff_document((None, ("ENERGY", 1, 1, 25)), tariff_alt_text=said, phaseyard=OWN)
    assert write_tariff(parse_tariff(document), Edition.V2_2_1)["tariff_alt_text"] == said
    plain = parse_tariff(tariff_document((None, ("ENERGY", 1, 1, 25))))
    assert "tariff_alt_text" not in write_tariff(plain, Edition.V2_2_1)
    assert write_extension(plain) == {}
