"""A central system for the whole site, made from the `ocpp` package (as for the single stations)."""

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from typing import Any, TypeVar, cast

import pytest
from ocpp.routing import on as route
from ocpp.v16 import ChargePoint as ChargePoint16
from ocpp.v16 import call_result as result16
from ocpp.v201 import ChargePoint as ChargePoint201
from ocpp.v201 import call_result as result201
from websockets.asyncio.server import ServerConnection, serve
from websockets.exceptions import ConnectionClosed
from websockets.typing import Subprotocol

from tools.weavers_yard.people import CARDS, MEMBERS

logging.getLogger("ocpp").setLevel(logging.CRITICAL)
Handler = TypeVar("Handler", bound=Callable[..., Any])
GROUPS = {member.name: member.group for member in MEMBERS}
HOLDERS = {card.uid: card for card in CARDS}


def on(action: str) -> Callable[[Handler], Handler]:
    """The package's own decorator, which has no types."""
    return cast(Callable[[Handler], Handler], route(action, skip_schema_validation=True))


def verdict(uid: str) -> str:
    card = HOLDERS.get(uid)
    if card is None or GROUPS[card.member] is None:
        return "Invalid"
    return "Blocked" if card.blocked else "Accepted"


def now() -> str:
    return datetime.now(UTC).isoformat()


class House16(ChargePoint16):  # type: ignore[misc]
    numbers = iter(range(1, 10_000))

    @on("BootNotification")
    def boot(self, **_: Any) -> Any:
        return result16.BootNotification(current_time=now(), interval=300, status="Accepted")

    @on("Heartbeat")
    def beat(self) -> Any:
        return result16.Heartbeat(current_time=now())

    @on("Authorize")
    def authorize(self, id_tag: str) -> Any:
        return result16.Authorize(id_tag_info={"status": verdict(id_tag)})

    @on("StatusNotification")
    def status(self, **_: Any) -> Any:
        return result16.StatusNotification()

    @on("StartTransaction")
    def start_transaction(self, id_tag: str, **_: Any) -> Any:
        info = {"status": verdict(id_tag)}
        return result16.StartTransaction(transaction_id=next(House16.numbers), id_tag_info=info)

    @on("StopTransaction")
    def stop_transaction(self, **_: Any) -> Any:
        return result16.StopTransaction()

    @on("MeterValues")
    def meter_values(self, **_: Any) -> Any:
        return result16.MeterValues()


class House201(ChargePoint201):  # type: ignore[misc]
    @on("BootNotification")
    def boot(self, **_: Any) -> Any:
        return result201.BootNotification(current_time=now(), interval=300, status="Accepted")

    @on("Heartbeat")
    def beat(self) -> Any:
        return result201.Heartbeat(current_time=now())

    @on("Authorize")
    def authorize(self, id_token: dict[str, Any], **_: Any) -> Any:
        return result201.Authorize(id_token_info={"status": verdict(id_token["id_token"])})

    @on("StatusNotification")
    def status(self, **_: Any) -> Any:
        return result201.StatusNotification()

    @on("NotifyEvent")
    def event(self, **_: Any) -> Any:
        return result201.NotifyEvent()

    @on("TransactionEvent")
    def transaction(self, id_token: dict[str, Any] | None = None, **_: Any) -> Any:
        if id_token is None:
            return result201.TransactionEvent()
        return result201.TransactionEvent(id_token_info={"status": verdict(id_token["id_token"])})


@pytest.fixture
async def house_url() -> AsyncIterator[str]:
    async def station(socket: ServerConnection) -> None:
        assert socket.request is not None
        kind = House16 if socket.subprotocol == "ocpp1.6" else House201
        with contextlib.suppress(ConnectionClosed, asyncio.CancelledError):
            await kind(socket.request.path.rsplit("/", 1)[-1], socket).start()

    protocols = [Subprotocol("ocpp1.6"), Subprotocol("ocpp2.0.1")]
    async with serve(station, "127.0.0.1", 0, subprotocols=protocols) as server:
        yield f"ws://127.0.0.1:{next(iter(server.sockets)).getsockname()[1]}/ocpp"
