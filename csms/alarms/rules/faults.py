"""Errors that chargers tell of themselves. The codes are those of OCPP 1.6, 7.6 (ChargePointErrorCode)."""

from collections.abc import Mapping

from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact

KIND_BY_CODE: Mapping[str, str] = {
    "groundfailure": "ground_fault",
    "overcurrentfailure": "over_current",
    "hightemperature": "over_temperature",
    "powerswitchfailure": "contactor",
    "overvoltage": "voltage",
    "undervoltage": "voltage",
    "connectorlockfailure": "lock",
    "powermeterfailure": "meter_failure",
    "readerfailure": "reader",
    "evcommunicationerror": "car_communication",
}
"""Whatever else a charger tells is a `fault`."""

NO_MATTER = frozenset({"", "noerror", "weaksignal", "locallistconflict"})
"""Told as errors, but nothing that a person has to see to."""

FROM_STATUS = frozenset(KIND_BY_CODE.values()) | {"fault", "over_temperature_stop"}
"""What a status without them ends."""


def signs(fact: Fact) -> tuple[Sign, ...]:
    """The status of an EVSE says all that is wrong with it: what it does not tell is over.

    Heat that stopped the charger (status Faulted) is another matter than heat that slows it.
    """
    if fact.topic != "station.status":
        return ()
    evse = fact.body.get("evse")
    thing = f"{fact.subject}/{evse}"
    code = str(fact.body.get("error") or "").replace(" ", "").casefold()
    faulted = fact.body.get("status") == "faulted"
    kind = KIND_BY_CODE.get(code, "" if code in NO_MATTER and not faulted else "fault")
    if kind == "over_temperature" and faulted:
        kind = "over_temperature_stop"
    over = Over(FROM_STATUS - {kind}, thing)
    if not kind:
        return (over,)
    told = {name: fact.body[name] for name in ("error", "info", "status") if fact.body.get(name)}
    number = evse if isinstance(evse, int) and evse > 0 else None
    return (over, Begun(kind=kind, thing=thing, station_id=fact.subject, evse=number, detail=told))
