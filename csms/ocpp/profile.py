"""Charging profiles to and from the wire, as far as both versions agree, and their rules.

Limits are rounded down to one decimal, the most that OCPP 1.6 (schema) and 2.0.1 (text)
allow. The rules: a station's maximum is set for the whole station and is never relative; a
transaction's profile belongs to one EVSE; absolute and recurring schedules need a start,
relative ones have none; periods ascend from 0; external constraints are not ours to send.
Sources: OCPP 1.6 sections 3.13 and 7.8 to 7.14 with errata, OCPP 2.0.1 Part 2 block K.
"""

from itertools import pairwise
from math import isfinite
from typing import Any

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields, Words
from csms.ocpp.times import write_time
from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod, ProfilePurpose, RateUnit
from csms.units import floor_tenth

UNITS = Words({"A": RateUnit.AMPERE, "W": RateUnit.WATT})

KINDS: dict[ProfileKind, dict[str, str]] = {
    ProfileKind.ABSOLUTE: {"chargingProfileKind": "Absolute"},
    ProfileKind.RELATIVE: {"chargingProfileKind": "Relative"},
    ProfileKind.DAILY: {"chargingProfileKind": "Recurring", "recurrencyKind": "Daily"},
    ProfileKind.WEEKLY: {"chargingProfileKind": "Recurring", "recurrencyKind": "Weekly"},
}


_WITHOUT_START = (ProfileKind.RELATIVE, ProfileKind.DYNAMIC)


def refusal(profile: ChargingProfile, evse: int) -> Unsupported | None:
    """Why `profile` may not be set for `evse` (0: the station), None when it may."""
    purpose = profile.purpose
    if purpose is ProfilePurpose.EXTERNAL:
        return Unsupported("purpose: external constraints come from others and cannot be set by us")
    if purpose is ProfilePurpose.STATION_MAX and evse != 0:
        return Unsupported("evse: a station's maximum is set for the whole station, EVSE 0")
    if purpose is ProfilePurpose.STATION_MAX and profile.kind is ProfileKind.RELATIVE:
        return Unsupported("kind: a station's maximum cannot be relative to a transaction")
    if purpose is ProfilePurpose.TX and evse < 1:
        return Unsupported("evse: a transaction's profile is set for the EVSE of the transaction")
    if purpose is not ProfilePurpose.TX and profile.transaction_id is not None:
        return Unsupported("transaction_id: only a transaction's profile may name one")
    return schedule_refusal(profile)


def too_new(profile: ChargingProfile) -> Unsupported | None:
    """Why OCPP 1.6 and 2.0.1 cannot carry `profile`, None when they can."""
    if profile.purpose in (ProfilePurpose.PRIORITY, ProfilePurpose.LOCAL_GENERATION):
        return Unsupported(f"purpose: {profile.purpose} needs OCPP 2.1")
    if profile.kind is ProfileKind.DYNAMIC:
        return Unsupported("kind: a dynamic profile needs OCPP 2.1")
    told = {
        "most_offline_s": profile.most_offline_s,
        "ends_offline": profile.ends_offline or None,
        "update_every_s": profile.update_every_s,
        "random_delay_s": profile.random_delay_s,
        "local_time": profile.local_time or None,
    }
    for name, value in told.items():
        if value is not None:
            return Unsupported(f"{name}: needs OCPP 2.1; leave it out")
    for period in profile.periods:
        own = (period.limit_l2, period.limit_l3, period.discharge_limit, period.setpoint)
        if any(value is not None for value in own):
            return Unsupported("periods: limits per line, discharging and set points need OCPP 2.1")
    return None


def schedule_refusal(profile: ChargingProfile) -> Unsupported | None:
    """What is wrong with the schedule of `profile` itself, None when nothing is."""
    if profile.kind is ProfileKind.RELATIVE and profile.start_at is not None:
        return Unsupported("start_at: a relative profile starts with the transaction; leave it out")
    if profile.kind not in _WITHOUT_START and profile.start_at is None:
        return Unsupported("start_at: an absolute or recurring profile needs a start")
    starts = [period.start_s for period in profile.periods]
    if not starts or starts[0] != 0 or any(a >= b for a, b in pairwise(starts)):
        return Unsupported("periods: there must be some, ascending, the first at 0 s")
    if not all(isfinite(period.limit) and period.limit >= 0 for period in profile.periods):
        return Unsupported("periods: a limit must be a number of 0 or more")
    if any(period.phases not in (None, 1, 2, 3) for period in profile.periods):
        return Unsupported("periods: phases must be 1, 2 or 3")
    return None


def write_period(period: ProfilePeriod) -> dict[str, Any]:
    """One chargingSchedulePeriod, its limit rounded down."""
    wire: dict[str, Any] = {"startPeriod": period.start_s, "limit": floor_tenth(period.limit)}
    if period.phases is not None:
        wire["numberPhases"] = period.phases
    return wire


def write_schedule(profile: ChargingProfile) -> dict[str, Any]:
    """The chargingSchedule, without what only one version has."""
    wire: dict[str, Any] = {
        "chargingRateUnit": profile.unit.value,
        "chargingSchedulePeriod": [write_period(period) for period in profile.periods],
    }
    if profile.start_at is not None:
        wire["startSchedule"] = write_time(profile.start_at)
    if profile.duration_s is not None:
        wire["duration"] = profile.duration_s
    return wire


def write_validity(profile: ChargingProfile) -> dict[str, str]:
    """validFrom and validTo, where given."""
    times = {"validFrom": profile.valid_from, "validTo": profile.valid_to}
    return {name: write_time(at) for name, at in times.items() if at is not None}


def read_periods(schedule: Fields) -> tuple[ProfilePeriod, ...]:
    """The periods of a schedule that a station reports; those without start or limit are left out."""
    periods = []
    for period in schedule.parts("chargingSchedulePeriod"):
        start_s, limit = period.whole("startPeriod"), period.number("limit")
        if start_s is not None and limit is not None:
            periods.append(
                ProfilePeriod(
                    start_s,
                    limit,
                    phases=period.whole("numberPhases"),
                    phase_to_use=period.whole("phaseToUse"),
                    limit_l2=period.number("limit_L2"),
                    limit_l3=period.number("limit_L3"),
                    discharge_limit=period.number("dischargeLimit"),
                    setpoint=period.number("setpoint"),
                )
            )
    return tuple(periods)
