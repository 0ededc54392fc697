"""OCPP 1.6 charging profiles on the wire, to and from what `profiles` understands."""

from datetime import datetime, timedelta
from typing import Any, Final

from tools.simulator.profiles import Kind, Period, Profile, Purpose, Unit

PURPOSES: Final = {
    "ChargePointMaxProfile": Purpose.STATION_MAX,
    "TxDefaultProfile": Purpose.TX_DEFAULT,
    "TxProfile": Purpose.TX,
}
RECURS: Final = {"Daily": timedelta(days=1), "Weekly": timedelta(days=7)}


def read_time(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def read_profile(wire: dict[str, Any], connector_id: int) -> Profile:
    """Raises KeyError for a missing field, ValueError for a value that makes no sense."""
    schedule = wire["chargingSchedule"]
    recurrency = wire.get("recurrencyKind")
    transaction_id = wire.get("transactionId")
    return Profile(
        id=wire["chargingProfileId"],
        purpose=PURPOSES[wire["chargingProfilePurpose"]],
        stack_level=wire["stackLevel"],
        kind=Kind(wire["chargingProfileKind"]),
        unit=Unit(schedule["chargingRateUnit"]),
        periods=read_periods(schedule["chargingSchedulePeriod"]),
        evse_id=connector_id,
        starts_at=read_time(schedule.get("startSchedule")),
        duration_s=schedule.get("duration"),
        recurs=RECURS[recurrency] if recurrency else None,
        valid_from=read_time(wire.get("validFrom")),
        valid_to=read_time(wire.get("validTo")),
        transaction_id=None if transaction_id is None else str(transaction_id),
    )


def read_periods(wire: list[dict[str, Any]]) -> tuple[Period, ...]:
    """Raises ValueError unless they begin at 0 and ascend."""
    periods = tuple(Period(p["startPeriod"], p["limit"], p.get("numberPhases") or 3) for p in wire)
    starts = [period.start_s for period in periods]
    if not starts or starts[0] != 0 or starts != sorted(set(starts)):
        raise ValueError(f"startPeriod: {starts} must begin at 0 and ascend")
    return periods


def write_periods(periods: list[Period]) -> list[dict[str, Any]]:
    """Limits with one decimal, rounded down, as the field allows."""
    return [
        {"startPeriod": p.start_s, "limit": int(p.limit * 10 + 1e-6) / 10, "numberPhases": p.number_phases}
        for p in periods
    ]
