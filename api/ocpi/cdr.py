"""A charge detail record: OCPI 2.2.1, mod_cdrs, "CDR Object", with the meter's signed data.

Numbers have at most four decimals (OCPI, types, "number"); amounts are those of the session's bill,
not computed anew. A pause by the sharing of the supply is a period with energy alone: it is neither
charging nor parking, so no receiver can bill its time.
"""

import base64
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from typing import Any, Final

from csms.errors import Conflict
from csms.metering.series import CurvePoint, energy_at
from csms.metering.signed.proof import BEGIN, ENDS
from csms.metering.signed.record import Record
from csms.metering.signed.stored import StoredRecord
from csms.metering.signed.verdict import read
from csms.money import Currency, Money
from csms.sessions.pauses import Pause, idle
from csms.sessions.session import Session
from csms.sites.location.location import SiteLocation
from csms.sites.model import Site, System

WIDEST_PLAIN: Final = 512
"""Characters of SignedValue.plain_data in 2.2.1 (2.3.0 has corrected it to 5000)."""
_FOUR: Final = Decimal("0.0001")
_TOTALS: Final = {
    "FLAT": "total_fixed_cost",
    "ENERGY": "total_energy_cost",
    "SPOT": "total_energy_cost",
    "SPOT_MARKUP": "total_energy_cost",
    "SPOT_FEE": "total_energy_cost",
    "TIME": "total_time_cost",
    "PARKING_TIME": "total_parking_cost",
}
"""Dimension of a bill's line -> field of the record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CdrFacts:
    """What the record is made of. `tariff` is the OCPI object by which the session was priced."""

    session: Session
    site: Site
    location: SiteLocation
    curve: Sequence[CurvePoint]
    pauses: Sequence[Pause]
    tariff: Mapping[str, object] | None
    records: Sequence[StoredRecord]
    key: bytes | None
    at: datetime


def write_cdr(facts: CdrFacts) -> dict[str, Any]:
    """The CDR. Raises Conflict when the session has not ended, or has no price yet."""
    session = facts.session
    ended_at = session.ended_at
    if ended_at is None or session.open:
        raise Conflict(f"session {session.id} has not ended; its record is made then")
    if session.currency is None or session.cost_excl_minor is None:
        raise Conflict(f"session {session.id} has no price yet; assign a tariff to where it was")
    where = facts.location
    idle_s = sum((high - low).total_seconds() for low, high in idle(facts.pauses, ended_at))
    held_s = _held_s(facts.pauses, session.started_at, ended_at)
    whole_s = (ended_at - session.started_at).total_seconds()
    document: dict[str, Any] = {
        "country_code": where.country_code,
        "party_id": where.party_id,
        "id": f"{session.id}",
        "start_date_time": _instant(session.started_at),
        "end_date_time": _instant(ended_at),
        "session_id": f"{session.id}",
        "cdr_token": {
            "country_code": where.country_code,
            "party_id": where.party_id,
            "uid": session.token_text[:36] or "none",
            "type": "RFID" if session.token_text else "OTHER",
            "contract_id": (session.token_id or session.token_text or "none")[:36],
        },
        "auth_method": "COMMAND" if session.remote_start_id is not None else "WHITELIST",
        "cdr_location": _location(facts),
        "currency": session.currency,
        "tariffs": [] if facts.tariff is None else [dict(facts.tariff)],
        "charging_periods": _periods(facts, ended_at),
        "total_cost": _price(session),
        **_costs(session),
        "total_energy": _number(Decimal(session.energy_wh) / 1000),
        "total_time": _hours(whole_s),
        "total_parking_time": _hours(min(idle_s + held_s, whole_s)),
        "last_updated": _instant(facts.at),
    }
    if session.marks:
        document["remark"] = f"Marked: {', '.join(sorted(session.marks))}"[:255]
    if (signed := _signed(facts)) is not None:
        document["signed_data"] = signed
        serials = {record.serial for record in facts.records if record.serial}
        if len(serials) == 1:
            document["meter_id"] = serials.pop()
    return document


def _location(facts: CdrFacts) -> dict[str, Any]:
    where, session = facts.location, facts.session
    evse = session.evse or 1
    found: dict[str, Any] = {
        "id": facts.site.id[:36],
        "name": facts.site.name,
        "address": where.address,
        "city": where.city,
        "country": where.country,
        "coordinates": {"latitude": where.latitude, "longitude": where.longitude},
        "evse_uid": f"{session.station_id}*{evse}"[:36],
        "evse_id": f"{where.country_code}*{where.party_id}*E{_letters(session.station_id)}*{evse}"[:48],
        "connector_id": f"{session.connector or 1}",
        "connector_standard": where.connector_standard,
        "connector_format": where.connector_format,
        "connector_power_type": "AC_3_PHASE" if facts.site.system is System.TN_400 else "AC_1_PHASE",
    }
    if where.postal_code:
        found["postal_code"] = where.postal_code
    return found


def _periods(facts: CdrFacts, ended_at: datetime) -> list[dict[str, Any]]:
    """Cut where a pause begins or ends and where the bill begins to use another price."""
    session = facts.session
    begin = session.started_at
    marks = {begin, ended_at}
    for pause in facts.pauses:
        marks |= {at for at in (pause.from_at, pause.to_at) if at is not None}
    marks |= {at for line in _lines(session) if (at := _read(line.get("start"))) is not None}
    edges = sorted(at for at in marks if begin <= at <= ended_at)
    parked = idle(facts.pauses, ended_at)
    held = [(pause.from_at, pause.to_at or ended_at) for pause in facts.pauses if pause.by_us]
    found = []
    for low, high in pairwise(edges) if len(edges) > 1 else [(begin, ended_at)]:
        energy_wh = _energy(facts.curve, high, ended_at) - _energy(facts.curve, low, ended_at)
        dimensions = [{"type": "ENERGY", "volume": _number(Decimal(energy_wh) / 1000)}]
        hours = _hours((high - low).total_seconds())
        if not _within(low, held):
            kind = "PARKING_TIME" if _within(low, parked) else "TIME"
            dimensions.append({"type": kind, "volume": hours})
        period: dict[str, Any] = {"start_date_time": _instant(low), "dimensions": dimensions}
        if facts.tariff is not None:
            period["tariff_id"] = facts.tariff.get("id", session.tariff_id)
        found.append(period)
    return found


def _energy(curve: Sequence[CurvePoint], at: datetime, ended_at: datetime) -> int:
    """All of it at the end: a closing value may come a moment later."""
    if at >= ended_at:
        return curve[-1].energy_wh if curve else 0
    return energy_at(curve, at)[0]


def _held_s(pauses: Iterable[Pause], start: datetime, end: datetime) -> float:
    """Seconds in which we held the car, each once (our pauses do not overlap each other)."""
    return sum(
        max(0.0, (min(pause.to_at or end, end) - max(pause.from_at, start)).total_seconds())
        for pause in pauses
        if pause.by_us
    )


def _within(at: datetime, spans: Iterable[tuple[datetime, datetime]]) -> bool:
    return any(low <= at < high for low, high in spans)


def _price(session: Session) -> dict[str, Any]:
    assert session.currency is not None
    assert session.cost_excl_minor is not None
    kind = Currency(session.currency)
    found = {"excl_vat": _number(Money(session.cost_excl_minor, kind).to_decimal())}
    if session.cost_incl_minor is not None:
        found["incl_vat"] = _number(Money(session.cost_incl_minor, kind).to_decimal())
    return found


def _costs(session: Session) -> dict[str, Any]:
    """Sums of the bill's lines by dimension; those that the standard has no field for are in the total."""
    found: dict[str, dict[str, Decimal]] = {}
    untold: set[str] = set()
    for line in _lines(session):
        name = _TOTALS.get(str(line.get("dimension")))
        if line.get("phase") == "RESERVATION":
            name = "total_reservation_cost"
        if name is None:
            continue
        sums = found.setdefault(name, {"excl_vat": Decimal(0), "incl_vat": Decimal(0)})
        sums["excl_vat"] += Decimal(str(line["cost_excl_vat"]))
        if line.get("cost_incl_vat") is None:
            untold.add(name)
        else:
            sums["incl_vat"] += Decimal(str(line["cost_incl_vat"]))
    return {
        name: {
            kind: _number(amount)
            for kind, amount in sums.items()
            if not (kind == "incl_vat" and name in untold)
        }
        for name, sums in found.items()
    }


def _signed(facts: CdrFacts) -> dict[str, Any] | None:
    """SignedData (OCPI 2.2.1, 10.4.8): each record base64, its plain text beside it as far as it fits."""
    values, encodings = [], set()
    for stored in facts.records:
        text = stored.value.data or stored.value.received
        encodings.add(stored.value.encoding or "unknown")
        values.append(
            {
                "nature": _nature(stored),
                "plain_data": text[:WIDEST_PLAIN],
                "signed_data": base64.b64encode(text.encode()).decode(),
            }
        )
    if not values:
        return None
    found: dict[str, Any] = {"encoding_method": "/".join(sorted(encodings))[:36], "signed_values": values}
    if facts.key is not None:
        found["public_key"] = base64.b64encode(facts.key).decode()
    return found


def _nature(stored: StoredRecord) -> str:
    """Start, End or Intermediate; a record with both readings is that of the end."""
    found = read(stored.value)
    if isinstance(found, Record):
        reasons = {reading.reason for reading in found.readings}
        if reasons & ENDS:
            return "End"
        return "Start" if BEGIN in reasons else "Intermediate"
    return {"begin": "Start", "end": "End"}.get(stored.context, "Intermediate")


def _lines(session: Session) -> list[Mapping[str, Any]]:
    kept = session.cost_lines
    lines = kept.get("lines", []) if isinstance(kept, dict) else kept
    return [line for line in lines if isinstance(line, dict)] if isinstance(lines, list) else []


def _read(text: object) -> datetime | None:
    try:
        found = datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None
    return found if found is None or found.tzinfo is not None else found.replace(tzinfo=UTC)


def _instant(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _hours(seconds: float) -> Decimal:
    return _number(Decimal(str(seconds)) / 3600)


def _number(value: Decimal) -> Decimal:
    """With at most four decimals and no noughts behind them."""
    rounded = value.quantize(_FOUR, ROUND_HALF_UP).normalize()
    return rounded.quantize(Decimal(1)) if rounded == rounded.to_integral_value() else rounded


def _letters(text: str) -> str:
    """What may stand in an EVSE id (eMI3: letters, digits and *)."""
    return "".join(c for c in text.upper() if c.isascii() and c.isalnum())
