"""A tariff written as OCPI's Tariff object, of either edition. The inverse of parsing.

Our own components stay at home: what is exchanged is a valid OCPI object. One that follows the market
then says in words that the price per kWh is a guide, unless it has words of its own.
"""

from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from csms.errors import InvalidInput
from csms.tariffs.component import PriceComponent
from csms.tariffs.conditions import WEEK, Restrictions
from csms.tariffs.parsing import LIMIT_2_2_1, LIMIT_2_3_0, LimitFields
from csms.tariffs.tariff import Element, PriceLimit, Tariff, TaxIncluded


class Edition(StrEnum):
    V2_2_1 = "2.2.1"
    V2_3_0 = "2.3.0"


FOLLOWS_THE_MARKET = (
    {
        "language": "en",
        "text": "The price per kWh follows the day-ahead market; the one stated is a guide.",
    },
)
"""OCPI's DisplayText."""


def write_extension(tariff: Tariff) -> dict[str, object]:
    """What stands in `phaseyard` beside the OCPI object of a tariff of our own; empty when nothing does."""
    return {"components": [dict(own.write()) for own in tariff.own]} if tariff.own else {}


def exchanged(tariff: Tariff) -> dict[str, object]:
    """The object for a partner of either edition: 2.2.1's, unless its prices cannot be told in it."""
    plain = tariff.tax_included is TaxIncluded.NO
    return write_tariff(tariff, Edition.V2_2_1 if plain else Edition.V2_3_0)


def write_tariff(tariff: Tariff, edition: Edition) -> dict[str, object]:
    """The document, numbers as Decimal or int: `document.dump_json` writes them with their digits.

    InvalidInput when the tariff's prices hold taxes and the edition has no way to say so.
    """
    newer = edition is Edition.V2_3_0
    if not newer and tariff.tax_included is not TaxIncluded.NO:
        raise InvalidInput(
            "tax_included", f"is {tariff.tax_included}; prices of OCPI 2.2.1 are always without taxes"
        )
    names = LIMIT_2_3_0 if newer else LIMIT_2_2_1
    particulars = dict(tariff.particulars)
    if tariff.spots:
        particulars.setdefault("tariff_alt_text", list(FOLLOWS_THE_MARKET))
    if not newer:
        particulars.pop("preauthorize_amount", None)
    document: dict[str, object | None] = {
        "country_code": tariff.country_code,
        "party_id": tariff.party_id,
        "id": tariff.id,
        "currency": tariff.currency.code,
        "type": tariff.type and tariff.type.value,
        "min_price": tariff.min_price and _limit(tariff.min_price, names),
        "max_price": tariff.max_price and _limit(tariff.max_price, names),
        "elements": [_element(element) for element in tariff.elements],
        "tax_included": tariff.tax_included.value if newer else None,
        "start_date_time": _instant(tariff.valid_from),
        "end_date_time": _instant(tariff.valid_until),
        **particulars,
        "last_updated": _instant(tariff.last_updated),
    }
    return _given(document)


def _given(fields: dict[str, object | None]) -> dict[str, object]:
    return {name: value for name, value in fields.items() if value is not None}


def _limit(limit: PriceLimit, names: LimitFields) -> dict[str, object]:
    return _given({names.excl: limit.excl, names.incl: limit.incl})


def _element(element: Element) -> dict[str, object]:
    restrictions = _restrictions(element.restrictions)
    return _given(
        {
            "price_components": [_component(component) for component in element.components],
            "restrictions": restrictions or None,
        }
    )


def _component(component: PriceComponent) -> dict[str, object]:
    return _given(
        {
            "type": component.dimension.value,
            "price": component.price,
            "vat": component.vat_percent,
            "step_size": component.step_size,
        }
    )


def _restrictions(r: Restrictions) -> dict[str, object]:
    numbers: dict[str, Decimal | int | None] = {
        "min_kwh": r.min_energy_kwh,
        "max_kwh": r.max_energy_kwh,
        "min_current": r.min_current_a,
        "max_current": r.max_current_a,
        "min_power": r.min_power_kw,
        "max_power": r.max_power_kw,
        "min_duration": r.min_duration_s,
        "max_duration": r.max_duration_s,
    }
    return _given(
        {
            "start_time": None if r.start_time is None else f"{r.start_time:%H:%M}",
            "end_time": None if r.end_time is None else f"{r.end_time:%H:%M}",
            "start_date": r.start_date and r.start_date.isoformat(),
            "end_date": r.end_date and r.end_date.isoformat(),
            **numbers,
            "day_of_week": [day.value for day in WEEK if day in r.days] or None,
            "reservation": r.reservation and r.reservation.value,
        }
    )


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant.isoformat().replace("+00:00", "Z")
