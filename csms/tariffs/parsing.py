"""OCPI's Tariff object read: 2.2.1's, and 2.3.0's, which has `tax_included`.

Strict, because a misspelt restriction that is passed over is a wrong bill. InvalidInput names the
path of what is wrong. For a tariff of our own the identifying fields may be left out; one from a
partner must have them (`identified`). One of our own may have a field more, `phaseyard`: the components
that OCPI does not know (`components.OWN`).
"""

import re
from dataclasses import dataclass
from datetime import date, time

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.component import Dimension, Own, PriceComponent
from csms.tariffs.components import OWN_KINDS
from csms.tariffs.conditions import NONE, DayOfWeek, ReservationRestriction, Restrictions
from csms.tariffs.document import (
    Fields,
    anything,
    choice,
    instant,
    items,
    not_negative,
    number,
    percent,
    text,
    whole,
)
from csms.tariffs.tariff import Element, PriceLimit, Tariff, TariffType, TaxIncluded

IDENTIFYING = ("country_code", "party_id", "id", "last_updated")
EXTENSION = "phaseyard"
"""Our own field beside OCPI's; left out of what is exchanged."""
PARTICULARS = ("tariff_alt_text", "tariff_alt_url", "energy_mix", "preauthorize_amount")
"""Fields that bear no price and are kept as they came; the last is of 2.3.0."""

_COMMON = (
    "country_code",
    "party_id",
    "id",
    "currency",
    "type",
    "tariff_alt_text",
    "tariff_alt_url",
    "min_price",
    "max_price",
    "elements",
    "start_date_time",
    "end_date_time",
    "energy_mix",
    "last_updated",
)
_RESTRICTIONS = (
    "start_time",
    "end_time",
    "start_date",
    "end_date",
    "min_kwh",
    "max_kwh",
    "min_current",
    "max_current",
    "min_power",
    "max_power",
    "min_duration",
    "max_duration",
    "day_of_week",
    "reservation",
)
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
_DATE = re.compile(r"[12]\d{3}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])")


@dataclass(frozen=True, slots=True)
class LimitFields:
    """What the two editions call the amounts of a price limit."""

    excl: str
    incl: str


LIMIT_2_2_1 = LimitFields("excl_vat", "incl_vat")
LIMIT_2_3_0 = LimitFields("before_taxes", "after_taxes")


def parse_tariff(document: object, path: str = "", *, identified: bool = False) -> Tariff:
    """The tariff of an OCPI document; `path` is put before the paths in errors."""
    newer = isinstance(document, dict) and document.get("tax_included") is not None
    known = (*_COMMON, "tax_included", "preauthorize_amount") if newer else _COMMON
    if not identified:
        known = (*known, EXTENSION)
    fields = Fields.of(document, path, known)
    if identified:
        for name in IDENTIFYING:
            fields.take(name, anything)
    names = LIMIT_2_3_0 if newer else LIMIT_2_2_1

    def limit(value: object, at: str) -> PriceLimit:
        return _limit(value, at, names)

    currency = fields.take("currency", _currency)
    elements = fields.take("elements", items(_element, at_least=1))
    tax_included = fields.maybe("tax_included", choice(TaxIncluded)) or TaxIncluded.NO
    min_price = fields.maybe("min_price", limit)
    max_price = fields.maybe("max_price", limit)
    valid_from = fields.maybe("start_date_time", instant)
    valid_until = fields.maybe("end_date_time", instant)
    country_code = fields.maybe("country_code", text(2))
    party_id = fields.maybe("party_id", text(3))
    tariff_id = fields.maybe("id", text(36))
    kind = fields.maybe("type", choice(TariffType))
    last_updated = fields.maybe("last_updated", instant)
    own = fields.maybe(EXTENSION, _extension) or ()
    try:
        return Tariff(
            currency=currency,
            elements=elements,
            tax_included=tax_included,
            min_price=min_price,
            max_price=max_price,
            valid_from=valid_from,
            valid_until=valid_until,
            country_code=country_code,
            party_id=party_id,
            id=tariff_id,
            type=kind,
            last_updated=last_updated,
            own=own,
            particulars={n: fields.values[n] for n in PARTICULARS if fields.values.get(n) is not None},
        )
    except InvalidInput as error:
        raise _below(path, error) from None


def _extension(value: object, path: str) -> tuple[Own, ...]:
    return Fields.of(value, path, ("components",)).take("components", items(_own, at_least=1))


def _own(value: object, path: str) -> Own:
    word = Fields(value, path).take("type", text(40)) if isinstance(value, dict) else None
    if word is None:
        raise InvalidInput(path, "must be an object with a type")
    if word not in OWN_KINDS:
        raise InvalidInput(f"{path}.type", f"must be one of {', '.join(OWN_KINDS)}, is {word!r}")
    return OWN_KINDS[word].read(value, path)


def _below(path: str, error: InvalidInput) -> InvalidInput:
    """The error of a value that does not know where it stands."""
    return InvalidInput(".".join(part for part in (path, error.field) if part), error.problem)


def _currency(value: object, path: str) -> Currency:
    code = text(3)(value, path)
    try:
        return Currency(code)
    except InvalidInput as error:
        raise InvalidInput(path, error.problem) from None


def _limit(value: object, path: str, names: LimitFields) -> PriceLimit:
    fields = Fields.of(value, path, (names.excl, names.incl))
    excl, incl = fields.take(names.excl, number), fields.maybe(names.incl, number)
    try:
        return PriceLimit(excl=excl, incl=incl)
    except InvalidInput as error:
        raise _below(path, error) from None


def _element(value: object, path: str) -> Element:
    fields = Fields.of(value, path, ("price_components", "restrictions"))
    components = fields.take("price_components", items(_component, at_least=1))
    restrictions = fields.maybe("restrictions", _restrictions) or NONE
    try:
        return Element(components=components, restrictions=restrictions)
    except InvalidInput as error:
        raise _below(path, error) from None


def _component(value: object, path: str) -> PriceComponent:
    fields = Fields.of(value, path, ("type", "price", "vat", "step_size"))
    return PriceComponent(
        dimension=fields.take("type", choice(Dimension)),
        price=fields.take("price", number),
        vat_percent=fields.maybe("vat", percent),
        step_size=fields.take("step_size", whole),
    )


def _restrictions(value: object, path: str) -> Restrictions:
    fields = Fields.of(value, path, _RESTRICTIONS)
    start_time, end_time = fields.maybe("start_time", _clock), fields.maybe("end_time", _clock)
    start_date, end_date = fields.maybe("start_date", _date), fields.maybe("end_date", _date)
    min_kwh, max_kwh = fields.maybe("min_kwh", not_negative), fields.maybe("max_kwh", not_negative)
    min_a, max_a = fields.maybe("min_current", not_negative), fields.maybe("max_current", not_negative)
    min_kw, max_kw = fields.maybe("min_power", not_negative), fields.maybe("max_power", not_negative)
    min_s, max_s = fields.maybe("min_duration", whole), fields.maybe("max_duration", whole)
    days = fields.maybe("day_of_week", items(choice(DayOfWeek))) or ()
    reservation = fields.maybe("reservation", choice(ReservationRestriction))
    try:
        return Restrictions(
            start_time=start_time,
            end_time=end_time,
            start_date=start_date,
            end_date=end_date,
            min_energy_kwh=min_kwh,
            max_energy_kwh=max_kwh,
            min_current_a=min_a,
            max_current_a=max_a,
            min_power_kw=min_kw,
            max_power_kw=max_kw,
            min_duration_s=min_s,
            max_duration_s=max_s,
            days=frozenset(days),
            reservation=reservation,
        )
    except InvalidInput as error:
        raise _below(path, error) from None


def _clock(value: object, path: str) -> time:
    written = text(5)(value, path)
    if not _CLOCK.fullmatch(written):
        raise InvalidInput(path, f"must be a time of day such as 07:30, is {written!r}")
    return time.fromisoformat(written)


def _date(value: object, path: str) -> date:
    written = text(10)(value, path)
    try:
        if _DATE.fullmatch(written):
            return date.fromisoformat(written)
    except ValueError:
        pass  # 31 April: said below
    raise InvalidInput(path, f"must be a day of the calendar such as 2026-01-31, is {written!r}")
