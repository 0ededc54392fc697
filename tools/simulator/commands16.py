"""What a 1.6 station answers to its central system: Core, Smart Charging and Remote Trigger."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Final

from tools.simulator.bay import Bay
from tools.simulator.keys16 import KEYS
from tools.simulator.profile16 import PURPOSES, read_profile, write_periods
from tools.simulator.profile_rules import acceptable, fits_transaction
from tools.simulator.profiles import Purpose, Unit
from tools.simulator.rpc import Answer, CallRefused, Payload
from tools.simulator.session import Reason, Trigger

if TYPE_CHECKING:
    from tools.simulator.station import Station

KNOWN_UNSUPPORTED: Final = frozenset(
    (
        "CancelReservation",
        "CertificateSigned",
        "DeleteCertificate",
        "ExtendedTriggerMessage",
        "GetDiagnostics",
        "GetInstalledCertificateIds",
        "GetLocalListVersion",
        "GetLog",
        "InstallCertificate",
        "ReserveNow",
        "SendLocalList",
        "SignedUpdateFirmware",
        "UpdateFirmware",
    )
)
ACCEPTED: Final = Answer({"status": "Accepted"})
REJECTED: Final = Answer({"status": "Rejected"})


def serve(station: "Station", action: str, payload: Payload) -> Answer:
    """NotSupported: an action we know and do not have; NotImplemented: one we do not know."""
    handler = HANDLERS.get(action)
    if handler is None:
        code = "NotSupported" if action in KNOWN_UNSUPPORTED else "NotImplemented"
        raise CallRefused(code, action)
    return handler(station, payload)


def connector(station: "Station", number: int) -> Bay:
    if not 1 <= number <= len(station.bays):
        raise CallRefused("PropertyConstraintViolation", f"connectorId {number}: there is no such connector")
    return station.bays[number - 1]


def change_availability(station: "Station", payload: Payload) -> Answer:
    number, in_service = payload["connectorId"], payload["type"] == "Operative"
    bays = station.bays if number == 0 else [connector(station, number)]
    done = [station.set_in_service(bay, in_service) for bay in bays]
    return ACCEPTED if all(done) else Answer({"status": "Scheduled"})


def get_configuration(station: "Station", payload: Payload) -> Answer:
    values = {name: key.read(station.options) for name, key in KEYS.items() if name != "AuthorizationKey"}
    values["NumberOfConnectors"] = str(len(station.bays))
    wanted = payload.get("key") or list(values)
    known = [
        {"key": name, "readonly": name not in KEYS or KEYS[name].parse is None, "value": values[name]}
        for name in wanted
        if name in values
    ]
    return Answer({"configurationKey": known, "unknownKey": [name for name in wanted if name not in values]})


def change_configuration(station: "Station", payload: Payload) -> Answer:
    key = KEYS.get(payload["key"])
    if key is None:
        return Answer({"status": "NotSupported"})
    if key.parse is None or key.option is None:
        return REJECTED
    try:
        value = key.parse(payload["value"])
    except ValueError:
        return REJECTED
    setattr(station.options, key.option, value)
    return ACCEPTED


def clear_cache(station: "Station", payload: Payload) -> Answer:
    station.known_tokens.clear()
    return ACCEPTED


def data_transfer(station: "Station", payload: Payload) -> Answer:
    return Answer({"status": "UnknownVendorId"})


def remote_start(station: "Station", payload: Payload) -> Answer:
    number = payload.get("connectorId")
    free = [b for b in station.bays if b.session is None and b.evse.in_service and not b.evse.faulted]
    if number is not None:
        free = [bay for bay in free if bay.number == number]
    bay = next((b for b in free if b.plugged), next(iter(free), None))
    if bay is None:
        return REJECTED
    if "chargingProfile" in payload:
        profile = read_profile(payload["chargingProfile"], bay.number)
        if profile.purpose is not Purpose.TX or profile.transaction_id is not None:
            return REJECTED
        station.profiles.install(profile, by_level=True)
    return Answer({"status": "Accepted"}, partial(_remote_start, station, bay, payload["idTag"]))


async def _remote_start(station: "Station", bay: Bay, token: str) -> None:
    if station.options.authorize_remote and await station.authorize(token) != "Accepted":
        return
    station.grant(bay, token, Trigger.REMOTE_START)


def remote_stop(station: "Station", payload: Payload) -> Answer:
    for bay in station.bays:
        if bay.session is not None and bay.session.number == payload["transactionId"]:
            return Answer(
                {"status": "Accepted"}, partial(_end, station, bay, Reason.REMOTE, Trigger.REMOTE_STOP)
            )
    return REJECTED


async def _end(station: "Station", bay: Bay, reason: Reason, trigger: Trigger) -> None:
    station.end(bay, reason, trigger)


def reset(station: "Station", payload: Payload) -> Answer:
    hard = payload["type"] == "Hard"
    return Answer(
        {"status": "Accepted"}, partial(_reset, station, Reason.HARD_RESET if hard else Reason.SOFT_RESET)
    )


async def _reset(station: "Station", reason: Reason) -> None:
    station.reboot(reason)


def unlock(station: "Station", payload: Payload) -> Answer:
    number = payload["connectorId"]
    if not 1 <= number <= len(station.bays):
        return Answer({"status": "NotSupported"})
    work = partial(_end, station, station.bays[number - 1], Reason.UNLOCK, Trigger.UNLOCK)
    return Answer({"status": "Unlocked"}, work)


def set_charging_profile(station: "Station", payload: Payload) -> Answer:
    number = payload["connectorId"]
    bay = connector(station, number) if number else None
    profile = read_profile(payload["csChargingProfiles"], number)
    if not acceptable(station.options, station.profiles, profile) or not fits_transaction(bay, profile):
        return REJECTED
    station.profiles.install(profile, by_level=True)
    return ACCEPTED


def clear_charging_profile(station: "Station", payload: Payload) -> Answer:
    purpose = payload.get("chargingProfilePurpose")
    cleared = station.profiles.clear(
        profile_id=payload.get("id"),
        evse_id=payload.get("connectorId"),
        purpose=PURPOSES[purpose] if purpose else None,
        stack_level=payload.get("stackLevel"),
    )
    return ACCEPTED if cleared else Answer({"status": "Unknown"})


def get_composite_schedule(station: "Station", payload: Payload) -> Answer:
    number, duration_s = payload["connectorId"], payload["duration"]
    bay = connector(station, number) if number else station.bays[0]
    unit, now = Unit(payload.get("chargingRateUnit", "A")), station.now()
    running = bay.session.running() if bay.session and number else None
    periods = station.profiles.composite(
        number, now, duration_s, unit, running, unlimited_a=bay.evse.model.max_current_a
    )
    start = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    schedule = {
        "duration": duration_s,
        "startSchedule": start,
        "chargingRateUnit": unit.value,
        "chargingSchedulePeriod": write_periods(periods),
    }
    return Answer(
        {"status": "Accepted", "connectorId": number, "scheduleStart": start, "chargingSchedule": schedule}
    )


def trigger_message(station: "Station", payload: Payload) -> Answer:
    wanted, number = payload["requestedMessage"], payload.get("connectorId")
    bays = station.bays if not number else [connector(station, number)]
    match wanted:
        case "Heartbeat":
            return Answer({"status": "Accepted"}, partial(_beat, station))
        case "MeterValues":
            return Answer({"status": "Accepted"}, partial(_meter, station, bays))
        case "StatusNotification":
            whole = number in (None, 0)
            told: list[Bay | None] = [None] if whole else []
            return Answer({"status": "Accepted"}, partial(_states, station, told + list(bays)))
        case "BootNotification":
            return (
                REJECTED if station.link.online else Answer({"status": "Accepted"}, partial(_boot, station))
            )
    return Answer({"status": "NotImplemented"})


async def _beat(station: "Station") -> None:
    station.hear_time(await station.link.heartbeat())


async def _boot(station: "Station") -> None:
    await station.link.boot()


async def _meter(station: "Station", bays: list[Bay]) -> None:
    for bay in bays:
        station.link.tell_metered(bay, bay.session, Trigger.TRIGGER)


async def _states(station: "Station", bays: list[Bay | None]) -> None:
    for bay in bays:
        await station.link.send_condition(bay)


HANDLERS: Final[Mapping[str, Callable[["Station", Payload], Answer]]] = {
    "ChangeAvailability": change_availability,
    "ChangeConfiguration": change_configuration,
    "ClearCache": clear_cache,
    "ClearChargingProfile": clear_charging_profile,
    "DataTransfer": data_transfer,
    "GetCompositeSchedule": get_composite_schedule,
    "GetConfiguration": get_configuration,
    "RemoteStartTransaction": remote_start,
    "RemoteStopTransaction": remote_stop,
    "Reset": reset,
    "SetChargingProfile": set_charging_profile,
    "TriggerMessage": trigger_message,
    "UnlockConnector": unlock,
}
