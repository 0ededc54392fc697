"""OCPP 2.0.1 as the station speaks it; what it answers is in `commands201`."""

import itertools
from datetime import datetime
from random import Random
from typing import TYPE_CHECKING, Any, ClassVar, Final

from tools.simulator import commands201, measure
from tools.simulator.bay import Bay
from tools.simulator.link import Link, LinkSettings, Registration
from tools.simulator.link16 import stamp
from tools.simulator.measure import Sample
from tools.simulator.outbox import Letter
from tools.simulator.rpc import Answer, Payload
from tools.simulator.session import Condition, Reason, Session, Trigger

if TYPE_CHECKING:
    from tools.simulator.station import Station

REASONS: Final = {
    Reason.LOCAL: "Local",
    Reason.DEPARTED: "EVDisconnected",
    Reason.REMOTE: "Remote",
    Reason.DEAUTHORIZED: "DeAuthorized",
    Reason.UNLOCK: "Other",
    Reason.SOFT_RESET: "ImmediateReset",
    Reason.HARD_RESET: "ImmediateReset",
    Reason.POWER_LOSS: "PowerLoss",
}
CHARGING_STATES: Final = {
    Condition.CHARGING: "Charging",
    Condition.SUSPENDED_EV: "SuspendedEV",
    Condition.SUSPENDED_EVSE: "SuspendedEVSE",
}
CONTEXTS: Final = {Trigger.CLOCK: "Sample.Clock", Trigger.TRIGGER: "Trigger"}
RFID_DIGITS: Final = (8, 14, 20)


def connector_status(condition: Condition) -> str:
    match condition:
        case Condition.AVAILABLE | Condition.UNAVAILABLE | Condition.FAULTED:
            return condition.value
    return "Occupied"


def sampled_value(sample: Sample, context: str) -> dict[str, Any]:
    """Values are numbers in 2.0.1; the unit goes into its own object."""
    wire: dict[str, Any] = {
        "value": sample.value,
        "context": context,
        "measurand": sample.measurand,
        "location": sample.location,
    }
    if sample.unit is not None:
        wire["unitOfMeasure"] = {"unit": sample.unit}
    if sample.phase is not None:
        wire["phase"] = sample.phase
    return wire


class Link201(Link):
    subprotocol: ClassVar[str] = "ocpp2.0.1"
    formation_error: ClassVar[str] = "FormatViolation"

    def __init__(self, station: "Station", settings: LinkSettings, random: Random) -> None:
        super().__init__(station, settings, random)
        self._event_ids = itertools.count(1)
        self.boot_reason = "PowerUp"
        self.token_types: dict[str, str] = {}

    def id_token(self, token: str) -> dict[str, Any]:
        """RFID cards are told by their length in hex digits (4, 7 or 10 bytes, ISO 14443)."""
        hexadecimal = all(c in "0123456789abcdefABCDEF" for c in token)
        guess = "ISO14443" if hexadecimal and len(token) in RFID_DIGITS else "Central"
        return {"idToken": token, "type": self.token_types.get(token.casefold(), guess)}

    async def boot(self) -> Registration:
        model = self.station.model
        answer = await self.call(
            "BootNotification",
            {
                "reason": self.boot_reason,
                "chargingStation": {
                    "vendorName": model.vendor,
                    "model": model.model[:20],
                    "serialNumber": (model.serial or model.identity)[:25],
                    "firmwareVersion": model.firmware,
                },
            },
        )
        return Registration(
            answer["status"], answer["interval"], datetime.fromisoformat(answer["currentTime"])
        )

    async def heartbeat(self) -> datetime | None:
        return datetime.fromisoformat((await self.call("Heartbeat", {}))["currentTime"])

    async def authorize_online(self, token: str) -> str:
        answer = await self.call("Authorize", {"idToken": self.id_token(token)})
        return str(answer["idTokenInfo"]["status"])

    async def send_condition(self, bay: Bay | None) -> None:
        if bay is None:
            return  # 2.0.1 tells connectors only
        status, now = connector_status(bay.condition), stamp(self.station.now())
        if not self.station.model.events_for_status:
            await self.call(
                "StatusNotification",
                {"timestamp": now, "connectorStatus": status, "evseId": bay.number, "connectorId": 1},
            )
            return
        event = {
            "eventId": next(self._event_ids),
            "timestamp": now,
            "trigger": "Delta",
            "actualValue": status,
            "eventNotificationType": "HardWiredNotification",
            "component": {"name": "Connector", "evse": {"id": bay.number, "connectorId": 1}},
            "variable": {"name": "AvailabilityState"},
        }
        await self.call("NotifyEvent", {"generatedAt": now, "seqNo": 0, "tbc": False, "eventData": [event]})

    def tell_started(self, bay: Bay, session: Session, trigger: Trigger) -> None:
        self._tell_event("Started", bay, session, trigger, context="Transaction.Begin")

    def tell_updated(self, bay: Bay, session: Session, trigger: Trigger) -> None:
        context = "Sample.Clock" if trigger is Trigger.CLOCK else "Sample.Periodic"
        self._tell_event("Updated", bay, session, trigger, context=context)

    def tell_metered(self, bay: Bay, session: Session | None, trigger: Trigger) -> None:
        if session is not None:
            context = CONTEXTS.get(trigger, "Sample.Periodic")
            self._tell_event("Updated", bay, session, trigger, context=context)
            return
        context = CONTEXTS.get(trigger, "Sample.Clock")
        value = self._meter_value(bay, self._measurands(trigger), context)
        payload = {"evseId": bay.number, "meterValue": [value]}
        self.outbox.put(Letter(action="MeterValues", build=lambda: payload))

    def tell_ended(self, bay: Bay, session: Session, reason: Reason, trigger: Trigger) -> None:
        self._tell_event("Ended", bay, session, trigger, context="Transaction.End", reason=reason)

    def _measurands(self, trigger: Trigger) -> tuple[str, ...]:
        options = self.station.options
        return options.aligned_measurands if trigger is Trigger.CLOCK else options.measurands

    def _tell_event(
        self,
        kind: str,
        bay: Bay,
        session: Session,
        trigger: Trigger,
        *,
        context: str,
        reason: Reason | None = None,
    ) -> None:
        info: dict[str, Any] = {
            "transactionId": session.key,
            "chargingState": self._charging_state(bay, session),
        }
        if reason is not None:
            info["stoppedReason"] = REASONS[reason]
        if session.remote_start_id is not None and not session.told_token:
            info["remoteStartId"] = session.remote_start_id
        payload: Payload = {
            "eventType": kind,
            "timestamp": stamp(self.station.now()),
            "triggerReason": trigger.value,
            "seqNo": session.next_seq_no(),
            "transactionInfo": info,
            "evse": {"id": bay.number, "connectorId": 1},
            "meterValue": [self._meter_value(bay, self._measurands(trigger), context)],
        }
        if not self.online:
            payload["offline"] = True
        asks = bool(session.token) and not session.told_token
        if asks or (kind == "Ended" and reason is Reason.LOCAL):
            payload["idToken"] = self.id_token(session.token)
            session.told_token = True

        def answered(answer: Payload) -> None:
            session.start_answered = True
            verdict = answer.get("idTokenInfo")
            if verdict is not None and asks:
                self.station.heard_verdict(bay, session, verdict["status"])

        self.outbox.put(Letter(action="TransactionEvent", build=lambda: payload, answered=answered))

    def _charging_state(self, bay: Bay, session: Session) -> str:
        if session.ended or not session.token:
            return "EVConnected" if bay.plugged else "Idle"
        return CHARGING_STATES.get(bay.condition, "EVConnected")

    def _meter_value(self, bay: Bay, measurands: tuple[str, ...], context: str) -> dict[str, Any]:
        samples = measure.read(bay, measurands)
        if not self.station.model.reports_soc:
            samples = [sample for sample in samples if sample.measurand != "SoC"]
        return {
            "timestamp": stamp(self.station.now()),
            "sampledValue": [sampled_value(sample, context) for sample in samples],
        }

    def serve(self, action: str, payload: Payload) -> Answer:
        return commands201.serve(self.station, self, action, payload)
