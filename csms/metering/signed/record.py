"""One OCMF record: `OCMF|payload|signature`, read without ever writing it anew.

What is signed are the payload's bytes as received, so the payload is cut out of the text and kept.
Its end is where its JSON ends, found by reading it: OCMF forbids the bar inside a section, and a
meter's free texts hold it all the same. A name that occurs twice in one object is a fault, since two
readers could understand two things. Source: OCMF 1.2, "JSON based OCMF Format", tables 1 to 8.
"""

import base64
import binascii
import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any, Final

from csms.metering.signed.curves import DEFAULT_ALGORITHM

HEADER: Final = "OCMF|"
DER: Final = "application/x-der"
_BLANK: Final = re.compile(r"[ \t\r\n]*")
_PAGE: Final = re.compile(r"([TF])(\d{1,18})", re.ASCII)
_TIME: Final = re.compile(
    r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)(?:[,.](\d{1,6}))?(Z|[+-]\d\d:?\d\d)(?: ([A-Z]))?", re.ASCII
)
_HEX: Final = re.compile(r"(?:[0-9A-Fa-f]{2})+")
_HALF: Final = re.compile("[\ud800-\udfff]")
"""Halves of surrogate pairs, which JSON can spell and no database keeps."""
LARGEST: Final = Decimal(10) ** 12
"""No register shows more, in whatever unit; a number with ten thousand digits is none."""
SMALLEST_DIGIT: Final = -12


class Malformed(ValueError):
    """The text is no OCMF record; the message says where and why."""


@dataclass(frozen=True, slots=True)
class SignedReading:
    """A reading inside a record. `reason` is TX: why it was taken; "" outside transactions.

    `value` in `unit` with all the digits the meter gave (None: it tells of an error only),
    `quantity` the OBIS code. `clock` is the state of the meter's clock (S: synchronised).
    """

    at: datetime
    clock: str
    reason: str
    value: Decimal | None
    quantity: str
    unit: str
    errors: str
    status: str


@dataclass(frozen=True, slots=True)
class Record:
    """`payload` are the signed bytes; `page` is (context, number), T within transactions, F outside."""

    payload: bytes
    version: str
    page: tuple[str, int]
    meter_serial: str
    gateway_serial: str
    readings: tuple[SignedReading, ...]
    algorithm: str
    mime: str
    signature: bytes

    @property
    def serial(self) -> str:
        """Whose key it is: the meter's, else the gateway's that signs for it."""
        return self.meter_serial or self.gateway_serial

    @property
    def at(self) -> datetime:
        """When its first reading was taken."""
        return self.readings[0].at


def parse(text: str) -> Record:
    """The record in `text`. Raises Malformed."""
    text = text.strip()
    if not text.startswith(HEADER):
        raise Malformed("it does not begin with OCMF|")
    payload, end = _object(text, len(HEADER), "the payload")
    if text[end : end + 1] != "|":
        raise Malformed("there is no bar behind the payload")
    signed = text[len(HEADER) : end]
    signature, end = _object(text, end + 1, "the signature")
    if end != len(text):
        raise Malformed("something follows the signature")
    algorithm = _text(signature, "SA") or DEFAULT_ALGORITHM
    return Record(
        payload=signed.encode(),
        version=_text(payload, "FV"),
        page=_page(payload),
        meter_serial=_text(payload, "MS"),
        gateway_serial=_text(payload, "GS"),
        readings=_readings(payload),
        algorithm=algorithm,
        mime=_text(signature, "SM") or DER,
        signature=_signature(signature),
    )


def _object(text: str, start: int, what: str) -> tuple[dict[str, Any], int]:
    """The JSON object that begins at `start`, and where the section behind it ends."""
    blank = _BLANK.match(text, start)
    begin = start if blank is None else blank.end()
    if text[begin : begin + 1] != "{":
        raise Malformed(f"{what} is no JSON object")
    try:
        found, end = _DECODER.raw_decode(text, begin)
    except Malformed:
        raise
    except (ValueError, RecursionError):
        raise Malformed(f"{what} is no JSON") from None
    blank = _BLANK.match(text, end)
    return found, end if blank is None else blank.end()


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Malformed("a name occurs twice in one object")
    return found


def _no_constant(name: str) -> Any:
    raise ValueError(name)


_DECODER: Final = json.JSONDecoder(
    object_pairs_hook=_once, parse_float=Decimal, parse_int=Decimal, parse_constant=_no_constant
)


def _text(fields: dict[str, Any], name: str) -> str:
    """A text that may be left out."""
    value = fields.get(name)
    if value is None:
        return ""
    if not isinstance(value, str) or "\0" in value or _HALF.search(value):
        raise Malformed(f"{name} is no text")
    return value


def _page(payload: dict[str, Any]) -> tuple[str, int]:
    found = _PAGE.fullmatch(_text(payload, "PG"))
    if found is None:
        raise Malformed("PG is no pagination such as T12")
    return found[1], int(found[2])


def _readings(payload: dict[str, Any]) -> tuple[SignedReading, ...]:
    told = payload.get("RD")
    if not isinstance(told, list) or not told:
        raise Malformed("RD has no readings")
    found: list[SignedReading] = []
    # "Fields that have an identical value to the previous reading are omitted" (OCMF 1.2, Readings).
    fields: dict[str, Any] = {}
    for place, each in enumerate(told):
        if not isinstance(each, dict):
            raise Malformed(f"RD[{place}] is no object")
        fields = {**fields, **each}
        found.append(_reading(fields, place))
    return tuple(found)


def _reading(fields: dict[str, Any], place: int) -> SignedReading:
    where = f"RD[{place}]"
    at, clock = _time(_text(fields, "TM"), where)
    status = _text(fields, "ST")
    if not status:
        raise Malformed(f"{where}.ST is missing")
    value = fields.get("RV")
    if value is not None and not (isinstance(value, Decimal) and _sound(value)):
        raise Malformed(f"{where}.RV is no number, or none that a register can show")
    return SignedReading(
        at=at,
        clock=clock,
        reason=_text(fields, "TX"),
        value=value,
        quantity=_text(fields, "RI"),
        unit=_text(fields, "RU"),
        errors=_text(fields, "EF"),
        status=status,
    )


def _sound(value: Decimal) -> bool:
    exponent = value.as_tuple().exponent
    return isinstance(exponent, int) and exponent >= SMALLEST_DIGIT and abs(value) <= LARGEST


def _time(text: str, where: str) -> tuple[datetime, str]:
    found = _TIME.fullmatch(text)
    if found is None:
        raise Malformed(f"{where}.TM is no time such as 2018-07-24T13:22:04,000+0200 S")
    try:
        local = datetime.fromisoformat(found[1])
        zone = found[3].replace(":", "")
        offset = timedelta()
        if zone != "Z":
            offset = timedelta(hours=int(zone[1:3]), minutes=int(zone[3:5])) * (-1 if zone[0] == "-" else 1)
        micros = int((found[2] or "0").ljust(6, "0"))
        at = local.replace(microsecond=micros, tzinfo=timezone(offset)).astimezone(UTC)
    except (ValueError, OverflowError):
        raise Malformed(f"{where}.TM is no possible time") from None
    return at, found[4] or ""


def _signature(fields: dict[str, Any]) -> bytes:
    told, encoding = _text(fields, "SD"), (_text(fields, "SE") or "hex").lower()
    if encoding == "hex" and _HEX.fullmatch(told):
        return bytes.fromhex(told)
    if encoding == "base64" and told:
        try:
            return base64.b64decode(told, validate=True)
        except (binascii.Error, ValueError):
            pass
    raise Malformed(f"SD is no signature in {encoding}")
