"""OCPP 1.6J by the package `ocpp`."""

from collections.abc import Callable
from datetime import datetime
from typing import Any, ClassVar, TypeVar, cast

from ocpp.routing import on as route
from ocpp.v16 import ChargePoint, call, call_result
from websockets.asyncio.client import ClientConnection

from tests.scenarios.charger import Charger, Checked, HeldProfile, Values, periods, stamp

Handler = TypeVar("Handler", bound=Callable[..., Any])


def on(action: str) -> Callable[[Handler], Handler]:
    """The package's own decorator, which has no types."""
    return cast(Callable[[Handler], Handler], route(action))


class Package16(Checked, ChargePoint):  # type: ignore[misc]
    @on("SetChargingProfile")
    async def set_profile(self, connector_id: int, cs_charging_profiles: dict[str, Any]) -> Any:
        schedule = cs_charging_profiles["charging_schedule"]
        limit_a, then = periods(schedule)
        transaction_id = cs_charging_profiles.get("transaction_id")
        await self.took(
            HeldProfile(
                evse=connector_id,
                purpose=cs_charging_profiles["charging_profile_purpose"],
                stack_level=cs_charging_profiles["stack_level"],
                limit_a=limit_a,
                then=then,
                valid_to=cs_charging_profiles.get("valid_to"),
                transaction_id=None if transaction_id is None else str(transaction_id),
            )
        )
        return call_result.SetChargingProfile(status="Accepted")

    @on("TriggerMessage")
    def trigger(self, **_: Any) -> Any:
        return call_result.TriggerMessage(status="NotImplemented")


class Charger16(Charger):
    subprotocol: ClassVar[str] = "ocpp1.6"
    number = 0
    card = ""

    def _make(self, socket: ClientConnection) -> Any:
        return Package16(self.station_id, socket)

    async def boot(self) -> tuple[str, int, str]:
        answer = await self.call(
            call.BootNotification(charge_point_vendor="Weir", charge_point_model="Sluice 22")
        )
        return answer.status, answer.interval, answer.current_time

    async def heartbeat(self) -> str:
        return str((await self.call(call.Heartbeat())).current_time)

    async def available(self, at: datetime) -> None:
        for connector in (0, 1):
            await self.call(
                call.StatusNotification(
                    connector_id=connector, error_code="NoError", status="Available", timestamp=stamp(at)
                )
            )

    async def authorize(self, card: str) -> str:
        answer = await self.call(call.Authorize(id_tag=card))
        return str(answer.id_tag_info["status"])

    async def start(self, card: str, at: datetime, register_wh: int) -> tuple[str, str]:
        answer = await self.call(
            call.StartTransaction(connector_id=1, id_tag=card, meter_start=register_wh, timestamp=stamp(at))
        )
        self.number, self.card = answer.transaction_id, card
        return str(answer.transaction_id), answer.id_tag_info["status"]

    async def meter(self, values: Values) -> None:
        sampled = []
        for measurand, value, unit, line in values.named():
            one = {"measurand": measurand, "value": f"{value:.1f}", "unit": unit}
            sampled.append(one if line is None else {**one, "phase": line})
        await self.call(
            call.MeterValues(
                connector_id=1,
                transaction_id=self.number,
                meter_value=[{"timestamp": stamp(values.at), "sampled_value": sampled}],
            )
        )

    async def stop(self, at: datetime, register_wh: int) -> None:
        await self.call(
            call.StopTransaction(
                transaction_id=self.number,
                meter_stop=register_wh,
                timestamp=stamp(at),
                reason="Local",
                id_tag=self.card,
            )
        )
