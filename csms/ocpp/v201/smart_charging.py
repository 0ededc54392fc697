"""Charging profiles in OCPP 2.0.1 (block K, K01 to K10)."""

from collections.abc import Callable, Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields, Words
from csms.ocpp.profile import KINDS, UNITS, read_periods, refusal, too_new, write_schedule, write_validity
from csms.ocpp.translator import Asked, Heard, Payload, Writer, plain_result, status_of
from csms.stations.commands import (
    ClearProfiles,
    Command,
    CommandResult,
    GetComposite,
    GetProfiles,
    SetProfile,
)
from csms.stations.events import Event, ProfilesReported
from csms.stations.model import ChargingProfile, CompositeSchedule, ProfileKind, ProfilePurpose, RateUnit
from csms.stations.questions import Question

PURPOSES: Mapping[ProfilePurpose, str] = {
    ProfilePurpose.STATION_MAX: "ChargingStationMaxProfile",
    ProfilePurpose.TX_DEFAULT: "TxDefaultProfile",
    ProfilePurpose.TX: "TxProfile",
    ProfilePurpose.EXTERNAL: "ChargingStationExternalConstraints",
}
PURPOSE_WORDS = Words({word: purpose for purpose, word in PURPOSES.items()})

KIND_WORDS = Words(
    {"Absolute": ProfileKind.ABSOLUTE, "Relative": ProfileKind.RELATIVE, "Recurring": ProfileKind.DAILY}
)


def write_profile(profile: ChargingProfile, with_id: bool = True) -> Payload:
    """`with_id` False leaves the transaction's id out, as a remote start must.

    A line can only be chosen together with numberPhases 1; otherwise the choice is left out.
    """
    schedule = {"id": profile.id, **write_schedule(profile)}
    for wire_period, period in zip(schedule["chargingSchedulePeriod"], profile.periods, strict=True):
        if period.phase_to_use is not None and period.phases == 1:
            wire_period["phaseToUse"] = period.phase_to_use
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
    return wire


def write_set(command: SetProfile) -> Payload | Unsupported:
    fault = refusal(command.profile, command.evse) or too_new(command.profile)
    if fault is not None:
        return fault
    if command.profile.purpose is ProfilePurpose.TX and not command.profile.transaction_id:
        return Unsupported("transaction_id: OCPP 2.0.1 wants the transaction that the profile is for")
    return {"evseId": command.evse, "chargingProfile": write_profile(command.profile)}


def write_clear(command: ClearProfiles) -> Payload | Unsupported:
    """By id alone, or by criteria; with neither a station cannot know what to do (K10)."""
    if command.id is not None:
        return {"chargingProfileId": command.id}
    if command.purpose is ProfilePurpose.EXTERNAL:
        return Unsupported("purpose: external constraints are not ours to clear")
    if command.purpose is not None and command.purpose not in PURPOSES:
        return Unsupported(f"purpose: OCPP 2.0.1 has no {command.purpose}")
    criteria: Payload = {}
    if command.evse is not None:
        criteria["evseId"] = command.evse
    if command.purpose is not None:
        criteria["chargingProfilePurpose"] = PURPOSES[command.purpose]
    if command.stack_level is not None:
        criteria["stackLevel"] = command.stack_level
    if not criteria:
        return Unsupported("OCPP 2.0.1 clears by id, EVSE, purpose or stack level; name one of them")
    return {"chargingProfileCriteria": criteria}


def write_get(command: GetProfiles) -> Payload | Unsupported:
    """No EVSE: of all; EVSE 0: of the station itself."""
    if command.purpose is not None and command.purpose not in PURPOSES:
        return Unsupported(f"purpose: OCPP 2.0.1 has no {command.purpose}")
    wire: Payload = {"requestId": command.request_id, "chargingProfile": {}}
    if command.evse is not None:
        wire["evseId"] = command.evse
    if command.purpose is not None:
        wire["chargingProfile"]["chargingProfilePurpose"] = PURPOSES[command.purpose]
    return wire


def read_report(
    said: Fields, now: datetime, read: Callable[[Fields], ChargingProfile | None] | None = None
) -> ProfilesReported:
    """Raises Unreadable without the id of the request that it belongs to. `read`: one profile."""
    read = read or read_profile
    request_id = said.whole("requestId")
    if request_id is None:
        raise said.false("requestId", "is missing: nobody knows which report this is a part of")
    profiles = [profile for part in said.parts("chargingProfile") if (profile := read(part)) is not None]
    return ProfilesReported(request_id, said.whole("evseId") or 0, not said.flag("tbc"), tuple(profiles))


def read_profile(
    said: Fields,
    purposes: Words[ProfilePurpose] = PURPOSE_WORDS,
    kinds: Words[ProfileKind] = KIND_WORDS,
) -> ChargingProfile | None:
    """A profile as a station reports it, its first schedule only; None when it lacks an essential part."""
    profile_id, level = said.whole("id"), said.whole("stackLevel")
    purpose, kind = (
        said.word("chargingProfilePurpose", purposes),
        said.word("chargingProfileKind", kinds),
    )
    schedule = next(said.parts("chargingSchedule"), None)
    if profile_id is None or level is None or purpose is None or kind is None or schedule is None:
        return None
    if kind is ProfileKind.DAILY and said.text("recurrencyKind") == "Weekly":
        kind = ProfileKind.WEEKLY
    return ChargingProfile(
        id=profile_id,
        stack_level=level,
        purpose=purpose,
        kind=kind,
        periods=read_periods(schedule),
        unit=schedule.word("chargingRateUnit", UNITS) or RateUnit.AMPERE,
        start_at=schedule.time("startSchedule"),
        duration_s=schedule.whole("duration"),
        valid_from=said.time("validFrom"),
        valid_to=said.time("validTo"),
        transaction_id=said.text("transactionId") or None,
    )


def write_composite(command: GetComposite) -> Payload:
    return {
        "evseId": command.evse,
        "duration": command.duration_s,
        "chargingRateUnit": command.unit.value,
    }


def read_composite(command: GetComposite, said: Fields) -> CommandResult:
    """`data` is None when the station accepted and told no schedule, i.e. has no limit."""
    status, detail = status_of(said)
    schedule = said.part("schedule")
    if not schedule:
        return CommandResult(status, detail)
    duration_s = schedule.whole("duration")
    data = CompositeSchedule(
        start_at=schedule.time("scheduleStart"),
        duration_s=command.duration_s if duration_s is None else duration_s,
        unit=schedule.word("chargingRateUnit", UNITS) or command.unit,
        periods=read_periods(schedule),
    )
    return CommandResult(status, detail, data)


INBOUND: Mapping[str, Heard] = {"ReportChargingProfiles": Heard(ProfilesReported, read_report)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    SetProfile: Asked("SetChargingProfile", write_set, plain_result),
    ClearProfiles: Asked("ClearChargingProfile", write_clear, plain_result),
    GetProfiles: Asked("GetChargingProfiles", write_get, plain_result),
    GetComposite: Asked("GetCompositeSchedule", write_composite, read_composite),
}
