"""Charging profiles in OCPP 2.1 (block K): two more purposes, dynamic profiles, limits per line.

The rules for what only 2.1 has: K01.FR.73 (priority without a duration), FR.142 to 146 (limits of L2
and L3 in a transaction's profile only), K28 (a dynamic profile has one period); a limit is 0 or more, a
discharge limit 0 or less (schema).
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields, Words
from csms.ocpp.profile import KINDS as KINDS_BEFORE
from csms.ocpp.profile import refusal, schedule_refusal, write_period, write_schedule, write_validity
from csms.ocpp.times import write_time
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, plain_result
from csms.ocpp.v201 import smart_charging as before
from csms.stations.commands import ClearProfiles, Command, GetProfiles, SetProfile
from csms.stations.events import Event, ProfilesReported
from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod, ProfilePurpose
from csms.stations.questions import Question
from csms.units import floor_tenth

PURPOSES: Mapping[ProfilePurpose, str] = {
    **before.PURPOSES,
    ProfilePurpose.PRIORITY: "PriorityCharging",
    ProfilePurpose.LOCAL_GENERATION: "LocalGeneration",
}
PURPOSE_WORDS = Words({word: purpose for purpose, word in PURPOSES.items()})

KINDS: Mapping[ProfileKind, Mapping[str, str]] = {
    **KINDS_BEFORE,
    ProfileKind.DYNAMIC: {"chargingProfileKind": "Dynamic"},
}
KIND_WORDS = Words(
    {
        "Absolute": ProfileKind.ABSOLUTE,
        "Relative": ProfileKind.RELATIVE,
        "Recurring": ProfileKind.DAILY,
        "Dynamic": ProfileKind.DYNAMIC,
    }
)


def fault_of(profile: ChargingProfile) -> Unsupported | None:
    """What is wrong with the schedule of `profile` in 2.1, None when nothing is."""
    if (fault := schedule_refusal(profile)) is not None:
        return fault
    if profile.kind is ProfileKind.DYNAMIC and len(profile.periods) != 1:
        return Unsupported("periods: a dynamic profile has one, whose values change")
    if profile.purpose is ProfilePurpose.PRIORITY and profile.duration_s is not None:
        return Unsupported("duration_s: a priority profile lasts as long as it is turned on; leave it out")
    if profile.purpose not in _RANDOM and profile.random_delay_s is not None:
        return Unsupported("random_delay_s: only a transaction's profile and the default may have one")
    for period in profile.periods:
        lines = (period.limit_l2, period.limit_l3)
        if any(value is not None for value in lines) and profile.purpose is not ProfilePurpose.TX:
            return Unsupported("periods: limits of L2 and L3 are for a transaction's profile only")
        if any(value is not None and value < 0 for value in lines):
            return Unsupported("periods: a limit must be a number of 0 or more")
        if period.discharge_limit is not None and period.discharge_limit > 0:
            return Unsupported("periods: a discharge limit is 0 or less")
    return None


_RANDOM = (ProfilePurpose.TX, ProfilePurpose.TX_DEFAULT)


def write_profile(profile: ChargingProfile, with_id: bool = True) -> Payload:
    """`with_id` False leaves the transaction's id out, as a remote start must."""
    schedule: Payload = {"id": profile.id, **write_schedule(profile)}
    schedule["chargingSchedulePeriod"] = [_period(period) for period in profile.periods]
    if profile.random_delay_s is not None:
        schedule["randomizedDelay"] = profile.random_delay_s
    if profile.local_time:
        schedule["useLocalTime"] = True
    wire: Payload = {
        "id": profile.id,
        "stackLevel": profile.stack_level,
        "chargingProfilePurpose": PURPOSES[profile.purpose],
        **KINDS[profile.kind],
        **write_validity(profile),
        "chargingSchedule": [schedule],
    }
    if with_id and profile.transaction_id is not None:
        wire["transactionId"] = profile.transaction_id
    if profile.most_offline_s is not None:
        wire["maxOfflineDuration"] = profile.most_offline_s
    if profile.ends_offline:
        wire["invalidAfterOfflineDuration"] = True
    if profile.update_every_s is not None:
        wire["dynUpdateInterval"] = profile.update_every_s
    if profile.updated_at is not None:
        wire["dynUpdateTime"] = write_time(profile.updated_at)
    return wire


def _period(period: ProfilePeriod) -> dict[str, Any]:
    wire = write_period(period)
    if period.phase_to_use is not None and period.phases == 1:
        wire["phaseToUse"] = period.phase_to_use
    for name, limit in {"limit_L2": period.limit_l2, "limit_L3": period.limit_l3}.items():
        if limit is not None:
            wire[name] = floor_tenth(limit)
    if period.discharge_limit is not None:
        # Towards 0 is the careful side here too.
        wire["dischargeLimit"] = -floor_tenth(-period.discharge_limit)
    if period.setpoint is not None:
        wire["setpoint"] = round(period.setpoint, 1)
    return wire


def write_set(command: SetProfile) -> Payload | Unsupported:
    profile = command.profile
    fault = refusal(profile, command.evse) or fault_of(profile)
    if fault is not None:
        return fault
    if profile.purpose is ProfilePurpose.LOCAL_GENERATION and command.evse != 0:
        return Unsupported("evse: local generation is set for the whole station, EVSE 0")
    if profile.purpose is ProfilePurpose.TX and not profile.transaction_id:
        return Unsupported("transaction_id: OCPP 2.1 wants the transaction that the profile is for")
    return {"evseId": command.evse, "chargingProfile": write_profile(profile)}


def write_clear(command: ClearProfiles) -> Payload | Unsupported:
    """By id alone, or by criteria (K10)."""
    purpose = command.purpose
    written = before.write_clear(replace(command, purpose=None) if purpose in _NEW else command)
    if purpose not in _NEW or command.id is not None:
        return written
    criteria = {} if isinstance(written, Unsupported) else written["chargingProfileCriteria"]
    return {"chargingProfileCriteria": {**criteria, "chargingProfilePurpose": PURPOSES[purpose]}}


def write_get(command: GetProfiles) -> Payload | Unsupported:
    """No EVSE: of all; EVSE 0: of the station itself."""
    purpose = command.purpose
    written = before.write_get(replace(command, purpose=None))
    if purpose is not None and not isinstance(written, Unsupported):
        written["chargingProfile"]["chargingProfilePurpose"] = PURPOSES[purpose]
    return written


_NEW = (ProfilePurpose.PRIORITY, ProfilePurpose.LOCAL_GENERATION)


def read_report(said: Fields, now: datetime) -> ProfilesReported:
    return before.read_report(said, now, read_profile)


def read_profile(said: Fields) -> ChargingProfile | None:
    """As in 2.0.1, with what 2.1 adds."""
    profile = before.read_profile(said, PURPOSE_WORDS, KIND_WORDS)
    if profile is None:
        return None
    schedule = next(said.parts("chargingSchedule"))
    return replace(
        profile,
        most_offline_s=said.whole("maxOfflineDuration"),
        ends_offline=said.flag("invalidAfterOfflineDuration"),
        update_every_s=said.whole("dynUpdateInterval"),
        updated_at=said.time("dynUpdateTime"),
        random_delay_s=schedule.whole("randomizedDelay"),
        local_time=schedule.flag("useLocalTime"),
    )


INBOUND: Mapping[str, Heard | Spelled] = {"ReportChargingProfiles": Heard(ProfilesReported, read_report)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SetProfile: Asked("SetChargingProfile", write_set, plain_result),
    ClearProfiles: Asked("ClearChargingProfile", write_clear, plain_result),
    GetProfiles: Asked("GetChargingProfiles", write_get, plain_result),
}
