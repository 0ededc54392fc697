"""OCPP 2.0.1 by the package `ocpp`."""

import uuid
from collections.abc import Callable
from datetime import datetime
from typing import Any, ClassVar, TypeVar, cast

from ocpp.routing import on as route
from ocpp.v201 import ChargePoint, call, call_result
from websockets.asyncio.client import ClientConnection

from tests.scenarios.charger import Charger, Checked, HeldProfile, Values, periods, stamp

Handler = TypeVar("Handler", bound=Callable[..., Any])
EVSE = {"id": 1, "connector_id": 1}


def on(action: str) -> Callable[[Handler], Handler]:
    """The package's own decorator, which has no types."""
    return cast(Callable[[Handler], Handler], route(action))


class Package201(Checked, ChargePoint):  # type: ignore[misc]
    @on("SetChargingProfile")
    async def set_profile(self, evse_id: int, charging_profile: dict[str, Any]) -> Any:
        (schedule,) = charging_profile["charging_schedule"]
        limit_a, then = periods(schedule)
        await self.took(
            HeldProfile(
                evse=evse_id,
                purpose=charging_profile["charging_profile_purpose"],
                stack_level=charging_profile["stack_level"],
                limit_a=limit_a,
                then=then,
                valid_to=charging_profile.get("valid_to"),
                transaction_id=charging_profile.get("transaction_id"),
            )
        )
        return call_result.SetChargingProfile(status="Accepted")

    @on("TriggerMessage")
    def trigger(self, **_: Any) -> Any:
        return call_result.TriggerMessage(status="NotImplemented")


class Charger201(Charger):
    subprotocol: ClassVar[str] = "ocpp2.0.1"
    messages: ClassVar[Any] = call
    transaction_id = ""
    seq_no = 0

    def _make(self, socket: ClientConnection) -> Any:
        return Package201(self.station_id, socket)

    async def boot(self) -> tuple[str, int, str]:
        station = {"vendor_name": "Weir", "model": "Sluice 22"}
        answer = await self.call(self.messages.BootNotification(charging_station=station, reason="PowerUp"))
        return answer.status, answer.interval, answer.current_time

    async def heartbeat(self) -> str:
        return str((await self.call(self.messages.Heartbeat())).current_time)

    async def available(self, at: datetime) -> None:
        await self.call(
            self.messages.StatusNotification(
                timestamp=stamp(at), connector_status="Available", evse_id=1, connector_id=1
            )
        )

    async def authorize(self, card: str) -> str:
        answer = await self.call(self.messages.Authorize(id_token=_token(card)))
        return str(answer.id_token_info["status"])

    async def start(self, card: str, at: datetime, register_wh: int) -> tuple[str, str]:
        self.transaction_id, self.seq_no = str(uuid.uuid4()), 0
        begin = _register(at, register_wh, "Transaction.Begin")
        answer = await self._event("Started", at, "Authorized", [begin], id_token=_token(card))
        return self.transaction_id, answer.id_token_info["status"]

    async def meter(self, values: Values) -> None:
        sampled = []
        for measurand, value, unit, line in values.named():
            one = {"measurand": measurand, "value": value, "unit_of_measure": {"unit": unit}}
            sampled.append(one if line is None else {**one, "phase": line})
        reading = {"timestamp": stamp(values.at), "sampled_value": sampled}
        await self._event("Updated", values.at, "MeterValuePeriodic", [reading])

    async def stop(self, at: datetime, register_wh: int) -> None:
        end = _register(at, register_wh, "Transaction.End")
        await self._event("Ended", at, "StopAuthorized", [end], stopped_reason="Local")

    async def _event(
        self,
        kind: str,
        at: datetime,
        trigger: str,
        readings: list[dict[str, Any]],
        *,
        id_token: dict[str, str] | None = None,
        **info: str,
    ) -> Any:
        state = "EVConnected" if kind == "Ended" else "Charging"
        event = self.messages.TransactionEvent(
            event_type=kind,
            timestamp=stamp(at),
            trigger_reason=trigger,
            seq_no=self.seq_no,
            transaction_info={"transaction_id": self.transaction_id, "charging_state": state, **info},
            meter_value=readings,
            evse=EVSE,
            id_token=id_token,
        )
        self.seq_no += 1
        return await self.call(event)


def _token(card: str) -> dict[str, str]:
    return {"id_token": card, "type": "ISO14443"}


def _register(at: datetime, register_wh: int, context: str) -> dict[str, Any]:
    value = {
        "measurand": "Energy.Active.Import.Register",
        "value": register_wh,
        "context": context,
        "unit_of_measure": {"unit": "Wh"},
    }
    return {"timestamp": stamp(at), "sampled_value": [value]}
