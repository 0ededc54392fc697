"""OCPP 1.6J as the station speaks it; what it answers is in `commands16`."""

from datetime import UTC, datetime
from typing import Any, ClassVar, Final

from tools.simulator import commands16, measure
from tools.simulator.bay import Bay
from tools.simulator.link import Link, Registration
from tools.simulator.measure import Sample
from tools.simulator.outbox import Letter
from tools.simulator.rpc import Answer, Payload
from tools.simulator.session import Condition, Reason, Session, Trigger

NO_TRANSACTION: Final = -1
"""The id of a transaction whose start could not be delivered (errata 3.18)."""

REASONS: Final = {
    Reason.LOCAL: "Local",
    Reason.DEPARTED: "EVDisconnected",
    Reason.REMOTE: "Remote",
    Reason.DEAUTHORIZED: "DeAuthorized",
    Reason.UNLOCK: "UnlockCommand",
    Reason.SOFT_RESET: "SoftReset",
    Reason.HARD_RESET: "HardReset",
    Reason.POWER_LOSS: "PowerLoss",
}
CONTEXTS: Final = {Trigger.CLOCK: "Sample.Clock", Trigger.TRIGGER: "Trigger"}


def stamp(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def sampled_value(sample: Sample, context: str) -> dict[str, Any]:
    """Values are strings in 1.6, and what has its default is left out except the measurand."""
    wire: dict[str, Any] = {
        "value": f"{sample.value:g}" if abs(sample.value) < 1e5 else f"{sample.value:.1f}",
        "context": context,
        "measurand": sample.measurand,
        "location": sample.location,
    }
    if sample.unit is not None:
        wire["unit"] = sample.unit
    if sample.phase is not None:
        wire["phase"] = sample.phase
    return wire


class Link16(Link):
    subprotocol: ClassVar[str] = "ocpp1.6"
    formation_error: ClassVar[str] = "PropertyConstraintViolation"

    async def boot(self) -> Registration:
        model = self.station.model
        answer = await self.call(
            "BootNotification",
            {
                "chargePointVendor": model.vendor[:20],
                "chargePointModel": model.model[:20],
                "chargePointSerialNumber": (model.serial or model.identity)[:25],
                "firmwareVersion": model.firmware,
                "meterType": "three-phase, class B",
            },
        )
        return Registration(
            answer["status"], answer["interval"], datetime.fromisoformat(answer["currentTime"])
        )

    async def heartbeat(self) -> datetime | None:
        return datetime.fromisoformat((await self.call("Heartbeat", {}))["currentTime"])

    async def authorize_online(self, token: str) -> str:
        return str((await self.call("Authorize", {"idTag": token}))["idTagInfo"]["status"])

    async def send_condition(self, bay: Bay | None) -> None:
        condition = Condition.AVAILABLE if bay is None else bay.condition
        await self.call(
            "StatusNotification",
            {
                "connectorId": 0 if bay is None else bay.number,
                "errorCode": "InternalError" if condition is Condition.FAULTED else "NoError",
                "status": condition.value,
                "timestamp": stamp(self.station.now()),
            },
        )

    def tell_started(self, bay: Bay, session: Session, trigger: Trigger) -> None:
        payload = {
            "connectorId": bay.number,
            "idTag": session.token,
            "meterStart": round(session.meter_start_wh),
            "timestamp": stamp(session.started_at),
        }

        def answered(answer: Payload) -> None:
            session.number = answer["transactionId"]
            session.start_answered = True
            self.station.heard_verdict(bay, session, answer["idTagInfo"]["status"])

        def dropped() -> None:
            session.number = NO_TRANSACTION

        self.outbox.put(
            Letter(action="StartTransaction", build=lambda: payload, answered=answered, dropped=dropped)
        )

    def tell_updated(self, bay: Bay, session: Session, trigger: Trigger) -> None:
        """1.6 has nothing for it: the state goes by StatusNotification."""

    def tell_metered(self, bay: Bay, session: Session | None, trigger: Trigger) -> None:
        options = self.station.options
        names = options.aligned_measurands if trigger is Trigger.CLOCK else options.measurands
        value = self.meter_value(bay, names, CONTEXTS.get(trigger, "Sample.Periodic"))
        if not value["sampledValue"]:
            return

        def build() -> Payload:
            payload: Payload = {"connectorId": bay.number, "meterValue": [value]}
            if session is not None and session.number is not None:
                payload["transactionId"] = session.number
            return payload

        self.outbox.put(Letter(action="MeterValues", build=build))

    def tell_ended(self, bay: Bay, session: Session, reason: Reason, trigger: Trigger) -> None:
        now, stop_wh = self.station.now(), round(bay.evse.register_wh)
        names = ("Energy.Active.Import.Register",)
        last = self.meter_value(bay, names, "Transaction.End")

        def build() -> Payload:
            payload: Payload = {
                "transactionId": NO_TRANSACTION if session.number is None else session.number,
                "meterStop": stop_wh,
                "timestamp": stamp(now),
                "reason": REASONS[reason],
                "transactionData": [last],
            }
            if reason is Reason.LOCAL:
                payload["idTag"] = session.token
            return payload

        self.outbox.put(Letter(action="StopTransaction", build=build))

    def meter_value(self, bay: Bay, measurands: tuple[str, ...], context: str) -> dict[str, Any]:
        samples = measure.read(bay, measurands)
        if not self.station.model.reports_soc:
            samples = [sample for sample in samples if sample.measurand != "SoC"]
        return {
            "timestamp": stamp(self.station.now()),
            "sampledValue": [sampled_value(sample, context) for sample in samples],
        }

    def serve(self, action: str, payload: Payload) -> Answer:
        return commands16.serve(self.station, action, payload)
