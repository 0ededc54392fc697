"""Charging profiles in OCPP 1.6 (sections 3.13, 5.5, 5.7, 5.16, 7.8 to 7.14)."""

from collections.abc import Mapping

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.profile import KINDS, UNITS, read_periods, refusal, too_new, write_schedule, write_validity
from csms.ocpp.translator import Asked, Heard, Payload, Writer, plain_result, status_of
from csms.stations.commands import ClearProfiles, Command, CommandResult, GetComposite, SetProfile
from csms.stations.events import Event
from csms.stations.model import ChargingProfile, CompositeSchedule, ProfilePurpose
from csms.stations.questions import Question

PURPOSES: Mapping[ProfilePurpose, str] = {
    ProfilePurpose.STATION_MAX: "ChargePointMaxProfile",
    ProfilePurpose.TX_DEFAULT: "TxDefaultProfile",
    ProfilePurpose.TX: "TxProfile",
}


def write_profile(profile: ChargingProfile, with_id: bool = True) -> Payload | Unsupported:
    """`with_id` False leaves the transaction's id out, as a remote start must."""
    if any(period.phase_to_use not in (None, 1) for period in profile.periods):
        return Unsupported("periods: OCPP 1.6 cannot choose the line")
    wire: Payload = {
        "chargingProfileId": profile.id,
        "stackLevel": profile.stack_level,
        "chargingProfilePurpose": PURPOSES[profile.purpose],
        **KINDS[profile.kind],
        **write_validity(profile),
        "chargingSchedule": write_schedule(profile),
    }
    if with_id and profile.transaction_id is not None:
        try:
            wire["transactionId"] = int(profile.transaction_id)
        except ValueError:
            return Unsupported(
                f"transaction_id: {profile.transaction_id!r:.40} is no integer, as OCPP 1.6 wants"
            )
    return wire


def write_set(command: SetProfile) -> Payload | Unsupported:
    profile = (
        refusal(command.profile, command.evse) or too_new(command.profile) or write_profile(command.profile)
    )
    if isinstance(profile, Unsupported):
        return profile
    return {"connectorId": command.evse, "csChargingProfiles": profile}


def write_clear(command: ClearProfiles) -> Payload | Unsupported:
    """With an id the other fields are left out (errata 3.26); nothing at all clears everything."""
    if command.id is not None:
        return {"id": command.id}
    wire: Payload = {}
    if command.evse is not None:
        wire["connectorId"] = command.evse
    if command.purpose is not None:
        if command.purpose not in PURPOSES:
            return Unsupported(f"purpose: OCPP 1.6 has no {command.purpose}")
        wire["chargingProfilePurpose"] = PURPOSES[command.purpose]
    if command.stack_level is not None:
        wire["stackLevel"] = command.stack_level
    return wire


def write_composite(command: GetComposite) -> Payload:
    return {
        "connectorId": command.evse,
        "duration": command.duration_s,
        "chargingRateUnit": command.unit.value,
    }


def read_composite(command: GetComposite, said: Fields) -> CommandResult:
    """`data` is None when the station accepted and told no schedule, i.e. has no limit."""
    status, detail = status_of(said)
    schedule = said.part("chargingSchedule")
    if not schedule:
        return CommandResult(status, detail)
    duration_s = schedule.whole("duration")
    data = CompositeSchedule(
        start_at=said.time("scheduleStart") or schedule.time("startSchedule"),
        duration_s=command.duration_s if duration_s is None else duration_s,
        unit=schedule.word("chargingRateUnit", UNITS) or command.unit,
        periods=read_periods(schedule),
    )
    return CommandResult(status, detail, data)


INBOUND: Mapping[str, Heard] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    SetProfile: Asked("SetChargingProfile", write_set, plain_result),
    ClearProfiles: Asked("ClearChargingProfile", write_clear, plain_result),
    GetComposite: Asked("GetCompositeSchedule", write_composite, read_composite),
}
