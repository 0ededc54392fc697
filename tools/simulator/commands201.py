"""What a 2.0.1 station answers to its central system."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from tools.simulator.bay import Bay
from tools.simulator.link16 import stamp
from tools.simulator.profile16 import write_periods
from tools.simulator.profile201 import PURPOSES, read_profile, write_profile
from tools.simulator.profile_rules import acceptable, fits_transaction
from tools.simulator.profiles import Profile, Purpose, Unit
from tools.simulator.rpc import Answer, CallRefused, Payload
from tools.simulator.session import Reason, Trigger
from tools.simulator.variables201 import VARIABLES, report

if TYPE_CHECKING:
    from tools.simulator.link201 import Link201
    from tools.simulator.station import Station

KNOWN_UNSUPPORTED: Final = frozenset(
    (
        "CancelReservation",
        "CertificateSigned",
        "ClearDisplayMessage",
        "ClearVariableMonitoring",
        "CostUpdated",
        "CustomerInformation",
        "DeleteCertificate",
        "GetDisplayMessages",
        "GetInstalledCertificateIds",
        "GetLocalListVersion",
        "GetLog",
        "GetMonitoringReport",
        "GetReport",
        "InstallCertificate",
        "PublishFirmware",
        "ReserveNow",
        "SendLocalList",
        "SetDisplayMessage",
        "SetMonitoringBase",
        "SetMonitoringLevel",
        "SetNetworkProfile",
        "SetVariableMonitoring",
        "UnpublishFirmware",
        "UpdateFirmware",
    )
)
ACCEPTED: Final = Answer({"status": "Accepted"})
ITEMS_PER_REPORT: Final = 10


def rejected(reason_code: str, info: str = "") -> Answer:
    status_info = {"reasonCode": reason_code, **({"additionalInfo": info} if info else {})}
    return Answer({"status": "Rejected", "statusInfo": status_info})


def serve(station: "Station", link: "Link201", action: str, payload: Payload) -> Answer:
    """NotSupported: an action we know and do not have; NotImplemented: one we do not know."""
    handler = HANDLERS.get(action)
    if handler is None:
        code = "NotSupported" if action in KNOWN_UNSUPPORTED else "NotImplemented"
        raise CallRefused(code, action)
    return handler(station, link, payload)


def find_bay(station: "Station", number: int) -> Bay | None:
    return station.bays[number - 1] if 1 <= number <= len(station.bays) else None


# --- device model --------------------------------------------------------------------------------


def look_up(wanted: dict[str, Any]) -> tuple[str, str, str]:
    """(component, variable, status) for a variable asked for."""
    component, name = wanted["component"]["name"], wanted["variable"]["name"]
    if wanted.get("attributeType", "Actual") != "Actual":
        return component, name, "NotSupportedAttributeType"
    if (component, name) in VARIABLES:
        return component, name, "Accepted"
    known = any(component == other for other, _ in VARIABLES)
    return component, name, "UnknownVariable" if known else "UnknownComponent"


def get_variables(station: "Station", link: "Link201", payload: Payload) -> Answer:
    results = []
    for wanted in payload["getVariableData"]:
        component, name, status = look_up(wanted)
        result = {"attributeStatus": status, "component": wanted["component"], "variable": wanted["variable"]}
        if status == "Accepted":
            variable = VARIABLES[component, name]
            if variable.write_only:
                result["attributeStatus"] = "Rejected"
            else:
                result["attributeValue"] = variable.read(station)
        results.append(result)
    return Answer({"getVariableResult": results})


def set_variables(station: "Station", link: "Link201", payload: Payload) -> Answer:
    results = []
    for wanted in payload["setVariableData"]:
        component, name, status = look_up(wanted)
        if status == "Accepted":
            variable = VARIABLES[component, name]
            if variable.parse is None or variable.option is None:
                status = "Rejected"
            else:
                try:
                    setattr(station.options, variable.option, variable.parse(wanted["attributeValue"]))
                except ValueError:
                    status = "Rejected"
        results.append(
            {"attributeStatus": status, "component": wanted["component"], "variable": wanted["variable"]}
        )
    return Answer({"setVariableResult": results})


def get_base_report(station: "Station", link: "Link201", payload: Payload) -> Answer:
    base = payload["reportBase"]
    if base == "SummaryInventory":
        return Answer({"status": "NotSupported"})
    configuration_only = base == "ConfigurationInventory"
    work = partial(_report, station, link, payload["requestId"], configuration_only)
    return Answer({"status": "Accepted"}, work)


async def _report(station: "Station", link: "Link201", request_id: int, configuration_only: bool) -> None:
    entries = list(report(station, configuration_only=configuration_only))
    parts = [entries[at : at + ITEMS_PER_REPORT] for at in range(0, len(entries), ITEMS_PER_REPORT)]
    for number, part in enumerate(parts):
        await link.call(
            "NotifyReport",
            {
                "requestId": request_id,
                "generatedAt": stamp(station.now()),
                "seqNo": number,
                "tbc": number < len(parts) - 1,
                "reportData": part,
            },
        )


# --- control -------------------------------------------------------------------------------------


def request_start(station: "Station", link: "Link201", payload: Payload) -> Answer:
    number = payload.get("evseId")
    free = [
        bay
        for bay in station.bays
        if number in (None, bay.number)
        and (bay.session is None or not bay.session.token)
        and bay.evse.in_service
        and not bay.evse.faulted
    ]
    bay = next((b for b in free if b.plugged), next(iter(free), None))
    if bay is None:
        return rejected("TxInProgress")
    if "chargingProfile" in payload:
        profile = read_profile(payload["chargingProfile"], bay.number)
        if profile.purpose is not Purpose.TX or profile.transaction_id is not None:
            return rejected("InvalidProfile")
        station.profiles.install(profile, by_level=False)
    token = payload["idToken"]
    link.token_types[token["idToken"].casefold()] = token["type"]
    work = partial(_request_start, station, bay, token["idToken"], payload["remoteStartId"])
    answer: Payload = {"status": "Accepted"}
    if bay.session is not None:
        answer["transactionId"] = bay.session.key
    return Answer(answer, work)


async def _request_start(station: "Station", bay: Bay, token: str, remote_start_id: int) -> None:
    if station.options.authorize_remote and await station.authorize(token) != "Accepted":
        return
    station.grant(bay, token, Trigger.REMOTE_START, remote_start_id)


def request_stop(station: "Station", link: "Link201", payload: Payload) -> Answer:
    for bay in station.bays:
        if bay.session is not None and bay.session.key == payload["transactionId"]:
            return Answer(
                {"status": "Accepted"}, partial(_end, station, bay, Reason.REMOTE, Trigger.REMOTE_STOP)
            )
    return rejected("TxNotFound")


async def _end(station: "Station", bay: Bay, reason: Reason, trigger: Trigger) -> None:
    station.end(bay, reason, trigger)


def get_transaction_status(station: "Station", link: "Link201", payload: Payload) -> Answer:
    answer: Payload = {"messagesInQueue": len(link.outbox) > 0}
    key = payload.get("transactionId")
    if key is not None:
        answer["ongoingIndicator"] = any(bay.session and bay.session.key == key for bay in station.bays)
    return Answer(answer)


def reset(station: "Station", link: "Link201", payload: Payload) -> Answer:
    busy = any(bay.session is not None for bay in station.bays)
    if payload["type"] == "OnIdle" and busy:
        return Answer({"status": "Scheduled"}, partial(_reset_when_idle, station, link))
    return Answer({"status": "Accepted"}, partial(_reset, station, link))


async def _reset(station: "Station", link: "Link201") -> None:
    link.boot_reason = "RemoteReset"
    station.reboot(Reason.SOFT_RESET)


async def _reset_when_idle(station: "Station", link: "Link201") -> None:
    while any(bay.session is not None for bay in station.bays):
        await station.clock.sleep(1)
    link.boot_reason = "ScheduledReset"
    station.reboot(Reason.SOFT_RESET)


def unlock(station: "Station", link: "Link201", payload: Payload) -> Answer:
    bay = find_bay(station, payload["evseId"])
    if bay is None or payload["connectorId"] != 1:
        return Answer({"status": "UnknownConnector"})
    if bay.session is not None and bay.session.token:
        return Answer({"status": "OngoingAuthorizedTransaction"})
    return Answer({"status": "Unlocked"})


def change_availability(station: "Station", link: "Link201", payload: Payload) -> Answer:
    in_service, number = payload["operationalStatus"] == "Operative", payload.get("evse", {}).get("id", 0)
    bay = find_bay(station, number)
    if number and bay is None:
        return rejected("UnknownEvse")
    done = [station.set_in_service(each, in_service) for each in ([bay] if bay else station.bays)]
    return ACCEPTED if all(done) else Answer({"status": "Scheduled"})


def trigger_message(station: "Station", link: "Link201", payload: Payload) -> Answer:
    wanted, number = payload["requestedMessage"], payload.get("evse", {}).get("id", 0)
    bay = find_bay(station, number)
    if number and bay is None:
        return rejected("UnknownEvse")
    bays = [bay] if bay else station.bays
    match wanted:
        case "Heartbeat":
            return Answer({"status": "Accepted"}, partial(_beat, station, link))
        case "StatusNotification":
            return Answer({"status": "Accepted"}, partial(_states, link, bays))
        case "MeterValues":
            return Answer({"status": "Accepted"}, partial(_meter, link, bays, True))
        case "TransactionEvent" if any(each.session for each in bays):
            return Answer({"status": "Accepted"}, partial(_meter, link, bays, False))
        case "TransactionEvent":
            return rejected("NoTransaction")
        case "BootNotification":
            return (
                rejected("NotAllowed")
                if link.online
                else Answer({"status": "Accepted"}, partial(_boot, link))
            )
    return Answer({"status": "NotImplemented"})


async def _beat(station: "Station", link: "Link201") -> None:
    station.hear_time(await link.heartbeat())


async def _boot(link: "Link201") -> None:
    await link.boot()


async def _states(link: "Link201", bays: list[Bay]) -> None:
    for bay in bays:
        await link.send_condition(bay)


async def _meter(link: "Link201", bays: list[Bay], all_bays: bool) -> None:
    for bay in bays:
        if all_bays or bay.session is not None:
            link.tell_metered(bay, bay.session, Trigger.TRIGGER)


def clear_cache(station: "Station", link: "Link201", payload: Payload) -> Answer:
    station.known_tokens.clear()
    return ACCEPTED


def data_transfer(station: "Station", link: "Link201", payload: Payload) -> Answer:
    return Answer({"status": "UnknownVendorId"})


# --- smart charging ------------------------------------------------------------------------------


def set_charging_profile(station: "Station", link: "Link201", payload: Payload) -> Answer:
    number = payload["evseId"]
    bay = find_bay(station, number)
    if number and bay is None:
        return rejected("UnknownEvse")
    profile = read_profile(payload["chargingProfile"], number)
    if not acceptable(station.options, station.profiles, profile):
        return rejected("InvalidProfile")
    if profile.purpose is Purpose.TX and profile.transaction_id is None:
        return rejected("MissingParam", "a TxProfile needs its transactionId")
    if not fits_transaction(bay, profile):
        return rejected("TxNotFound")
    other = station.profiles.conflict(profile)
    if other is not None:
        return rejected("DuplicateProfile", f"profile {other.id} has this purpose, level and EVSE")
    station.profiles.install(profile, by_level=False)
    return ACCEPTED


def clear_charging_profile(station: "Station", link: "Link201", payload: Payload) -> Answer:
    criteria = payload.get("chargingProfileCriteria", {})
    purpose = criteria.get("chargingProfilePurpose")
    cleared = station.profiles.clear(
        profile_id=payload.get("chargingProfileId"),
        evse_id=criteria.get("evseId"),
        purpose=PURPOSES[purpose] if purpose else None,
        stack_level=criteria.get("stackLevel"),
    )
    return ACCEPTED if cleared else Answer({"status": "Unknown"})


def get_charging_profiles(station: "Station", link: "Link201", payload: Payload) -> Answer:
    criterion, evse_id = payload["chargingProfile"], payload.get("evseId")
    purpose, ids = criterion.get("chargingProfilePurpose"), criterion.get("chargingProfileId")
    found = [
        profile
        for profile in station.profiles
        if evse_id in (None, profile.evse_id)
        and (purpose is None or PURPOSES.get(purpose) is profile.purpose)
        and criterion.get("stackLevel") in (None, profile.stack_level)
        and (ids is None or profile.id in ids)
        and "CSO" in criterion.get("chargingLimitSource", ["CSO"])
    ]
    if not found:
        return Answer({"status": "NoProfiles"})
    return Answer({"status": "Accepted"}, partial(_report_profiles, link, payload["requestId"], found))


async def _report_profiles(link: "Link201", request_id: int, profiles: list[Profile]) -> None:
    for position, profile in enumerate(profiles, start=1):
        await link.call(
            "ReportChargingProfiles",
            {
                "requestId": request_id,
                "chargingLimitSource": "CSO",
                "evseId": profile.evse_id,
                "tbc": position < len(profiles),
                "chargingProfile": [write_profile(profile)],
            },
        )


def get_composite_schedule(station: "Station", link: "Link201", payload: Payload) -> Answer:
    number, duration_s = payload["evseId"], payload["duration"]
    bay = find_bay(station, number)
    if number and bay is None:
        return rejected("UnknownEvse")
    unit, now = Unit(payload.get("chargingRateUnit", "A")), station.now()
    running = bay.session.running() if bay and bay.session else None
    top_a = station.model.evse.max_current_a
    periods = station.profiles.composite(number, now, duration_s, unit, running, unlimited_a=top_a)
    schedule = {
        "evseId": number,
        "duration": duration_s,
        "scheduleStart": stamp(now),
        "chargingRateUnit": unit.value,
        "chargingSchedulePeriod": write_periods(periods),
    }
    return Answer({"status": "Accepted", "schedule": schedule})


HANDLERS: Final[Mapping[str, Callable[["Station", "Link201", Payload], Answer]]] = {
    "ChangeAvailability": change_availability,
    "ClearCache": clear_cache,
    "ClearChargingProfile": clear_charging_profile,
    "DataTransfer": data_transfer,
    "GetBaseReport": get_base_report,
    "GetChargingProfiles": get_charging_profiles,
    "GetCompositeSchedule": get_composite_schedule,
    "GetTransactionStatus": get_transaction_status,
    "GetVariables": get_variables,
    "RequestStartTransaction": request_start,
    "RequestStopTransaction": request_stop,
    "Reset": reset,
    "SetChargingProfile": set_charging_profile,
    "SetVariables": set_variables,
    "TriggerMessage": trigger_message,
    "UnlockConnector": unlock,
}
