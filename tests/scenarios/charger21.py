"""OCPP 2.1 by the package `ocpp`; what it has in common with 2.0.1 is said in the same way."""

from typing import Any, ClassVar

from ocpp.v21 import ChargePoint, call, call_result
from websockets.asyncio.client import ClientConnection

from tests.scenarios.charger import Checked, HeldProfile, periods
from tests.scenarios.charger201 import Charger201, on


class Package21(Checked, ChargePoint):  # type: ignore[misc]
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

    @on("RequestBatterySwap")
    def swap(self, id_token: dict[str, Any], request_id: int, **_: Any) -> Any:
        assert id_token == {"id_token": "04B27D2F", "type": "ISO14443"}
        return call_result.RequestBatterySwap(status="Accepted")


class Charger21(Charger201):
    subprotocol: ClassVar[str] = "ocpp2.1"
    messages: ClassVar[Any] = call

    def _make(self, socket: ClientConnection) -> Any:
        return Package21(self.station_id, socket)

    async def swapped(self, request_id: int) -> None:
        battery = {"evse_id": 1, "serial_number": "B-77", "so_c": 12.5, "so_h": 96}
        await self.call(
            call.BatterySwap(
                battery_data=[battery],
                event_type="BatteryIn",
                id_token={"id_token": "04B27D2F", "type": "ISO14443"},
                request_id=request_id,
            )
        )
