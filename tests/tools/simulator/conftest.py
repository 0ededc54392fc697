"""An independent central system: the ChargePoint classes of the PyPI package `ocpp`, on a real socket.

The package checks every request and every answer of the simulator against the official JSON schemas.
"""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, TypeVar, cast

import orjson
import pytest
from ocpp.routing import on as route
from ocpp.v16 import ChargePoint as ChargePoint16
from ocpp.v16 import call_result as result16
from ocpp.v201 import ChargePoint as ChargePoint201
from ocpp.v201 import call_result as result201
from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.exceptions import ConnectionClosed
from websockets.typing import Subprotocol

logging.getLogger("ocpp").setLevel(logging.CRITICAL)


Handler = TypeVar("Handler", bound=Callable[..., Any])


def on(action: str) -> Callable[[Handler], Handler]:
    """The package's own decorator, which has no types."""
    return cast(Callable[[Handler], Handler], route(action))


def now() -> str:
    return datetime.now(UTC).isoformat()


@dataclass
class Heard:
    """What came in, by action, in order; `errors` are the CALLERRORs this central system had to send."""

    messages: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    errors: list[list[Any]] = field(default_factory=list)
    headers: list[tuple[str, str | None]] = field(default_factory=list)
    changed: asyncio.Condition = field(default_factory=asyncio.Condition)

    def of(self, action: str) -> list[dict[str, Any]]:
        return [payload for name, payload in self.messages if name == action]

    async def until(self, test: Callable[["Heard"], bool], timeout_s: float = 20) -> None:
        async with asyncio.timeout(timeout_s), self.changed:
            await self.changed.wait_for(lambda: test(self))

    async def note(self, frame: list[Any]) -> None:
        async with self.changed:
            if frame[0] == 2:
                self.messages.append((frame[2], frame[3]))
            self.changed.notify_all()


class Tapped:
    """The socket as the package sees it, with everything that passes noted first."""

    def __init__(self, socket: ServerConnection, heard: Heard, mute: set[str]) -> None:
        self._socket, self._heard, self._mute = socket, heard, mute

    async def recv(self) -> str | bytes:
        while True:
            text = await self._socket.recv()
            frame = orjson.loads(text)
            muted = frame[0] == 2 and frame[2] in self._mute
            if not muted:
                await self._heard.note(frame)
                return text

    async def send(self, text: str) -> None:
        frame = orjson.loads(text)
        if frame[0] == 4:
            self._heard.errors.append(frame)
        await self._socket.send(text)


class Central16(ChargePoint16):  # type: ignore[misc]
    verdicts: dict[str, str]
    boots: list[tuple[str, int]]
    number = 1000

    @on("BootNotification")
    def boot(self, **_: Any) -> Any:
        status, interval = self.boots.pop(0) if self.boots else ("Accepted", 300)
        return result16.BootNotification(current_time=now(), interval=interval, status=status)

    @on("Heartbeat")
    def beat(self) -> Any:
        return result16.Heartbeat(current_time=now())

    @on("Authorize")
    def authorize(self, id_tag: str) -> Any:
        return result16.Authorize(id_tag_info={"status": self.verdicts.get(id_tag, "Invalid")})

    @on("StatusNotification")
    def status(self, **_: Any) -> Any:
        return result16.StatusNotification()

    @on("StartTransaction")
    def start_transaction(self, id_tag: str, **_: Any) -> Any:
        Central16.number += 1
        status = self.verdicts.get(id_tag, "Invalid")
        return result16.StartTransaction(transaction_id=Central16.number, id_tag_info={"status": status})

    @on("StopTransaction")
    def stop_transaction(self, **_: Any) -> Any:
        return result16.StopTransaction()

    @on("MeterValues")
    def meter_values(self, **_: Any) -> Any:
        return result16.MeterValues()


class Central201(ChargePoint201):  # type: ignore[misc]
    verdicts: dict[str, str]

    @on("BootNotification")
    def boot(self, **_: Any) -> Any:
        return result201.BootNotification(current_time=now(), interval=300, status="Accepted")

    @on("Heartbeat")
    def beat(self) -> Any:
        return result201.Heartbeat(current_time=now())

    @on("Authorize")
    def authorize(self, id_token: dict[str, Any], **_: Any) -> Any:
        status = self.verdicts.get(id_token["id_token"], "Unknown")
        return result201.Authorize(id_token_info={"status": status})

    @on("StatusNotification")
    def status(self, **_: Any) -> Any:
        return result201.StatusNotification()

    @on("NotifyEvent")
    def event(self, **_: Any) -> Any:
        return result201.NotifyEvent()

    @on("NotifyReport")
    def report(self, **_: Any) -> Any:
        return result201.NotifyReport()

    @on("ReportChargingProfiles")
    def profiles(self, **_: Any) -> Any:
        return result201.ReportChargingProfiles()

    @on("TransactionEvent")
    def transaction(self, id_token: dict[str, Any] | None = None, **_: Any) -> Any:
        if id_token is None:
            return result201.TransactionEvent()
        status = self.verdicts.get(id_token["id_token"], "Unknown")
        return result201.TransactionEvent(id_token_info={"status": status})

    @on("MeterValues")
    def meter_values(self, **_: Any) -> Any:
        return result201.MeterValues()


class CentralSystem:
    """Both versions on one port. `mute` names actions that are swallowed without an answer; `boots` are the
    1.6 answers to the next boots, (status, interval), before it accepts."""

    def __init__(self) -> None:
        self.heard = Heard()
        self.verdicts = {"04A1B2C3D4E5F6": "Accepted", "04B10C0000000B": "Blocked"}
        self.mute: set[str] = set()
        self.boots: list[tuple[str, int]] = []
        self.stations: dict[str, Any] = {}
        self.sockets: list[ServerConnection] = []
        self.server: Server | None = None

    @property
    def url(self) -> str:
        assert self.server is not None
        port = next(iter(self.server.sockets)).getsockname()[1]
        return f"ws://127.0.0.1:{port}/ocpp"

    async def serve_station(self, socket: ServerConnection) -> None:
        assert socket.request is not None
        self.heard.headers.append((socket.request.path, socket.request.headers.get("Authorization")))
        self.sockets.append(socket)
        kind = Central16 if socket.subprotocol == "ocpp1.6" else Central201
        point = kind(socket.request.path.rsplit("/", 1)[-1], Tapped(socket, self.heard, self.mute))
        point.verdicts = self.verdicts
        point.boots = self.boots
        async with self.heard.changed:
            self.stations[point.id] = point
            self.heard.changed.notify_all()
        try:
            await point.start()
        except ConnectionClosed:
            pass
        finally:
            self.stations.pop(point.id, None)


@pytest.fixture
async def central() -> AsyncIterator[CentralSystem]:
    system = CentralSystem()
    protocols = [Subprotocol("ocpp1.6"), Subprotocol("ocpp2.0.1")]
    async with serve(system.serve_station, "127.0.0.1", 0, subprotocols=protocols) as system.server:
        yield system
    assert system.heard.errors == [], "the simulator sent something the official schemas refuse"
