"""The session document of `phaseyard price` read: an imagined session as a curve.

`start_local` is the site's wall clock in `time_zone`; of an hour that the end of summer time
repeats it is the first pass. `start_utc` may stand for it. `end_utc`, `total_time_h` and
`total_energy_kwh` may be given as a check on the segments; `assumed` is for remarks.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from csms.errors import InvalidInput
from csms.tariffs.component import Dimension
from csms.tariffs.curve import Curve, ReservationOutcome, Segment, SegmentKind, after
from csms.tariffs.document import Fields, choice, instant, items, not_negative, number, text

LONGEST_S = 400 * 86400
"""A session of more than a year is a slip of the pen."""

_SESSION = (
    "start_local",
    "time_zone",
    "segments",
    "reservation_outcome",
    "start_utc",
    "end_utc",
    "total_time_h",
    "total_energy_kwh",
    "price_override",
    "assumed",
)


@dataclass(frozen=True, slots=True)
class Imagined:
    """`prices` are actual prices, per dimension, that replace those which the tariff announces."""

    curve: Curve
    prices: Mapping[Dimension, Decimal]


def parse_session(document: object, path: str = "") -> Imagined:
    """Read the document; InvalidInput names the path of what is wrong, `path` put before it."""
    fields = Fields.of(document, path, _SESSION)
    zone = fields.maybe("time_zone", _zone)
    if fields.values.get("start_utc") is not None:
        if fields.values.get("start_local") is not None:
            raise InvalidInput(fields.at("start_utc"), "given beside start_local; keep one")
        start, zone = fields.take("start_utc", instant), zone or ZoneInfo("UTC")
    else:
        local = fields.take("start_local", _wall_clock)
        if zone is None:
            raise InvalidInput(fields.at("time_zone"), "missing; give one such as Europe/Amsterdam")
        start = _to_utc(local, zone, fields.at("start_local"))
    segments = fields.take("segments", items(_segment, at_least=1))
    outcome = fields.maybe("reservation_outcome", _outcome)
    try:
        curve = Curve(start=start, zone=zone, segments=segments, outcome=outcome)
    except InvalidInput as error:
        raise InvalidInput(fields.at(error.field), error.problem) from None
    if outcome is not None and not curve.reservation:
        raise InvalidInput(fields.at("reservation_outcome"), "given, but no segment is a RESERVATION")
    _check_sums(fields, curve)
    return Imagined(curve, fields.maybe("price_override", _prices) or {})


def _check_sums(fields: Fields, curve: Curve) -> None:
    duration_s = sum((s.duration_s for s in curve.segments), Fraction(0))
    if duration_s > LONGEST_S:
        raise InvalidInput(fields.at("segments"), f"last {int(duration_s)} s, more than a year")
    end = fields.maybe("end_utc", instant)
    if end is not None and end != after(curve.start, duration_s):
        raise InvalidInput(fields.at("end_utc"), f"the segments end at {after(curve.start, duration_s)}")
    energy_wh = sum((s.energy_wh for s in curve.segments), Fraction(0))
    for name, summed in (("total_time_h", duration_s / 3600), ("total_energy_kwh", energy_wh / 1000)):
        given = fields.maybe(name, _decimal)
        if given is not None and abs(Fraction(given) - summed) > Fraction(1, 1000):
            raise InvalidInput(fields.at(name), f"is {given}, but the segments sum to {float(summed):.3f}")


def _segment(value: object, path: str) -> Segment:
    known = ("kind", "duration_s", "energy_kwh", "current_a", "power_kw")
    fields = Fields.of(value, path, known)
    current = fields.maybe("current_a", not_negative)
    power_kw = fields.maybe("power_kw", not_negative)
    return Segment(
        kind=fields.take("kind", choice(SegmentKind)),
        duration_s=Fraction(fields.take("duration_s", not_negative)),
        energy_wh=Fraction(fields.maybe("energy_kwh", not_negative) or 0) * 1000,
        current_a=None if current is None else Fraction(current),
        power_w=None if power_kw is None else Fraction(power_kw) * 1000,
    )


def _outcome(value: object, path: str) -> ReservationOutcome:
    return choice(ReservationOutcome)(value.lower() if isinstance(value, str) else value, path)


def _prices(value: object, path: str) -> dict[Dimension, Decimal]:
    fields = Fields.of(value, path, tuple(Dimension))
    return {Dimension(name): fields.take(name, number) for name in fields.values}


def _decimal(value: object, path: str) -> Decimal:
    if not isinstance(value, str):
        return not_negative(value, path)
    try:
        return not_negative(Decimal(value), path)
    except InvalidOperation:
        raise InvalidInput(path, f"must be a number, is {value!r}") from None


def _zone(value: object, path: str) -> ZoneInfo:
    name = text(64)(value, path)
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InvalidInput(path, f"{name!r} is no zone of the tz database, such as Europe/Oslo") from None


def _wall_clock(value: object, path: str) -> datetime:
    written = text(40)(value, path)
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        moment = None
    if moment is None or "T" not in written:
        raise InvalidInput(path, f"must be a local time such as 2026-01-31T22:00:00, is {written!r}")
    return moment


def _to_utc(local: datetime, zone: ZoneInfo, path: str) -> datetime:
    """The first instant at which the site's clock shows `local`."""
    if local.tzinfo is not None:
        raise InvalidInput(path, "must be without offset: it is the time of the site's clock; use start_utc")
    instant_utc = local.replace(tzinfo=zone).astimezone(UTC)
    if instant_utc.astimezone(zone).replace(tzinfo=None) != local:
        raise InvalidInput(path, f"{local.isoformat()} does not exist in {zone.key}: summer time skips it")
    return instant_utc
