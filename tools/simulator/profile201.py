"""OCPP 2.0.1 charging profiles on the wire, to and from what `profiles` understands."""

from typing import Any, Final

from tools.simulator.profile16 import RECURS, read_periods, read_time, write_periods
from tools.simulator.profiles import Kind, Profile, Purpose, Unit

PURPOSES: Final = {
    "ChargingStationMaxProfile": Purpose.STATION_MAX,
    "TxDefaultProfile": Purpose.TX_DEFAULT,
    "TxProfile": Purpose.TX,
}
NAMES: Final = {purpose: name for name, purpose in PURPOSES.items()}


def read_profile(wire: dict[str, Any], evse_id: int) -> Profile:
    """Raises KeyError for a missing field, ValueError for what makes no sense or needs ISO 15118."""
    (schedule, *more) = wire["chargingSchedule"]
    if more:
        raise ValueError("chargingSchedule: more than one needs ISO 15118, which this station has not")
    recurrency = wire.get("recurrencyKind")
    return Profile(
        id=wire["id"],
        purpose=PURPOSES[wire["chargingProfilePurpose"]],
        stack_level=wire["stackLevel"],
        kind=Kind(wire["chargingProfileKind"]),
        unit=Unit(schedule["chargingRateUnit"]),
        periods=read_periods(schedule["chargingSchedulePeriod"]),
        evse_id=evse_id,
        starts_at=read_time(schedule.get("startSchedule")),
        duration_s=schedule.get("duration"),
        recurs=RECURS[recurrency] if recurrency else None,
        valid_from=read_time(wire.get("validFrom")),
        valid_to=read_time(wire.get("validTo")),
        transaction_id=wire.get("transactionId"),
    )


def write_profile(profile: Profile) -> dict[str, Any]:
    schedule: dict[str, Any] = {
        "id": profile.id,
        "chargingRateUnit": profile.unit.value,
        "chargingSchedulePeriod": write_periods(list(profile.periods)),
    }
    if profile.starts_at is not None:
        schedule["startSchedule"] = profile.starts_at.isoformat()
    if profile.duration_s is not None:
        schedule["duration"] = profile.duration_s
    wire: dict[str, Any] = {
        "id": profile.id,
        "stackLevel": profile.stack_level,
        "chargingProfilePurpose": NAMES[profile.purpose],
        "chargingProfileKind": profile.kind.value,
        "chargingSchedule": [schedule],
    }
    if profile.recurs is not None:
        wire["recurrencyKind"] = next(name for name, length in RECURS.items() if length == profile.recurs)
    for name, at in (("validFrom", profile.valid_from), ("validTo", profile.valid_to)):
        if at is not None:
            wire[name] = at.isoformat()
    if profile.transaction_id is not None:
        wire["transactionId"] = profile.transaction_id
    return wire
