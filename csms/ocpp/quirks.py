"""A station's known quirk put right in a payload, before it is judged or translated. Pure.

Factors act on what the unit says: values of energy, power and current in sampled values, and on
`meterStart` and `meterStop`. What was told is kept: each scaled sample stands there a second time,
under its measurand with `/told` behind it, so that it is stored among the other values of its reading.
Signed values are not touched.
"""

from collections.abc import Mapping
from datetime import UTC, datetime
from math import isfinite
from typing import Any
from zoneinfo import ZoneInfo

from csms.ocpp.adapter import Unreadable
from csms.ocpp.quantities import REGISTER
from csms.ocpp.times import read_time, write_time
from csms.stations.quirks.quirk import Quirk

TOLD = "/told"
_REGISTERS = frozenset({"meterStart", "meterStop"})
_TIMES = frozenset({"timestamp"})


def put_right(payload: Mapping[str, Any], quirk: Quirk) -> tuple[dict[str, Any], tuple[str, ...]]:
    """A copy of `payload` with the quirk mended, and what was done."""
    notes: list[str] = []
    mended = _object(payload, quirk, notes)
    return mended, tuple(notes)


def _object(told: Mapping[str, Any], quirk: Quirk, notes: list[str]) -> dict[str, Any]:
    mended: dict[str, Any] = {}
    for name, value in told.items():
        if name == "sampledValue" and isinstance(value, list) and quirk.scales:
            mended[name] = _samples(value, quirk, notes)
        elif name in _REGISTERS and quirk.energy_factor != 1.0:
            mended[name] = _scaled(value, quirk.energy_factor)
            notes.append(f"{name}: {value!r:.40} was told; times {quirk.energy_factor:g} by quirk {quirk.id}")
        elif name in _TIMES and quirk.zone:
            mended[name] = _time(value, quirk, notes)
        elif isinstance(value, dict):
            mended[name] = _object(value, quirk, notes)
        elif isinstance(value, list):
            mended[name] = [_object(one, quirk, notes) if isinstance(one, dict) else one for one in value]
        else:
            mended[name] = value
    return mended


def _samples(samples: list[Any], quirk: Quirk, notes: list[str]) -> list[Any]:
    mended: list[Any] = []
    for sample in samples:
        factor = _factor(sample, quirk)
        if factor == 1.0 or (scaled := _scaled(sample.get("value"), factor)) == sample.get("value"):
            mended.append(sample)
            continue
        measurand = sample.get("measurand") or REGISTER
        mended.append({**sample, "value": scaled})
        mended.append({**sample, "measurand": f"{measurand}{TOLD}"})
        notes.append(f"{measurand}: {sample['value']!r:.40} was told; times {factor:g} by quirk {quirk.id}")
    return mended


def _factor(sample: object, quirk: Quirk) -> float:
    if not isinstance(sample, dict) or sample.get("format") == "SignedData" or "signedMeterValue" in sample:
        return 1.0
    measurand = str(sample.get("measurand") or REGISTER)
    for beginning, factor in (
        ("Energy.", quirk.energy_factor),
        ("Power.Active", quirk.power_factor),
        ("Current.", quirk.current_factor),
    ):
        if measurand.startswith(beginning):
            return factor
    return 1.0


def _scaled(value: Any, factor: float) -> Any:
    """`value` times `factor`, in the type that it has; what is no number stays."""
    if isinstance(value, bool):
        return value
    try:
        product = float(value) * factor
    except (TypeError, ValueError, OverflowError):
        return value
    if not isfinite(product):
        return value
    number = round(product, 6)
    told = int(number) if abs(number) < 2**53 and number == int(number) else number
    return str(told) if isinstance(value, str) else told


def _time(value: Any, quirk: Quirk, notes: list[str]) -> Any:
    """The instant of a time of the station's zone; one with an offset of its own stays."""
    if not isinstance(value, str):
        return value
    bare = value.strip()
    if bare[-1:] in ("Z", "z"):
        if not quirk.false_z:
            return value
        bare = bare[:-1]
    elif "+" in bare or bare.count("-") > 2:
        return value
    try:
        local: datetime = read_time(bare, "timestamp").replace(tzinfo=ZoneInfo(quirk.zone))
    except Unreadable:
        return value
    notes.append(f"timestamp: {value!r:.40} was told; taken as of {quirk.zone} by quirk {quirk.id}")
    return write_time(local.astimezone(UTC))
