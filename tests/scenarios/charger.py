"""Independent clients: the PyPI package `ocpp`'s own ChargePoint over a plain `websockets` client.

Nothing of ours takes part. The package checks every message in both directions against the official
schemas; what does not pass is kept in `faults`, and `hang_up` fails on it.
"""

import asyncio
import base64
import json
from abc import ABC, abstractmethod
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar
from urllib.parse import quote

from ocpp.exceptions import OCPPError
from ocpp.messages import validate_payload
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed
from websockets.protocol import State
from websockets.typing import Subprotocol


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldProfile:
    """A charging profile as a station was told it, in words that all versions share.

    `then`: after how many s which limit in A follows, and nothing after that; None: none does.
    """

    evse: int
    purpose: str
    stack_level: int
    limit_a: float
    valid_to: str | None
    transaction_id: str | None
    then: tuple[int, float] | None = None


def periods(schedule: dict[str, Any]) -> tuple[float, tuple[int, float] | None]:
    """The limit of a schedule in A, and what follows it. It has one period or two, for all lines."""
    assert schedule.get("charging_rate_unit") == "A"
    first, *others = schedule["charging_schedule_period"]
    assert first["start_period"] == 0
    assert len(others) <= 1
    return first["limit"], (others[0]["start_period"], float(others[0]["limit"])) if others else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """One reading of a meter in twelve values, all lines alike."""

    at: datetime
    register_wh: int
    current_a: float
    voltage_v: float = 230.0
    offered_a: float = 32.0

    def named(self) -> list[tuple[str, float, str, str | None]]:
        """(measurand, value, unit, line); None: all lines together."""
        lines = ("L1", "L2", "L3")
        line_w = self.current_a * self.voltage_v
        values: list[tuple[str, float, str, str | None]] = []
        values += [("Current.Import", self.current_a, "A", line) for line in lines]
        values += [("Voltage", self.voltage_v, "V", f"{line}-N") for line in lines]
        values += [("Power.Active.Import", line_w, "W", line) for line in lines]
        values.append(("Power.Active.Import", 3 * line_w, "W", None))
        values.append(("Energy.Active.Import.Register", float(self.register_wh), "Wh", None))
        values.append(("Current.Offered", self.offered_a, "A", None))
        return values


def stamp(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


class Checked:
    """What both of the package's classes are given besides: what came in, and what broke a schema."""

    _ocpp_version: str
    frames: list[list[Any]]
    faults: list[str]
    profiles: list[HeldProfile]
    news: asyncio.Condition

    async def route_message(self, text: str) -> None:
        async with self.news:
            self.frames.append(json.loads(text))
            self.news.notify_all()
        await super().route_message(text)  # type: ignore[misc]

    async def _handle_call(self, message: Any) -> Any:
        try:
            # A copy, since the package changes what it checks; also of what this station does not do.
            await validate_payload(deepcopy(message), self._ocpp_version)
        except OCPPError as error:
            self.faults.append(f"{message.action} {message.payload}: {error}")
        return await super()._handle_call(message)  # type: ignore[misc]

    async def took(self, profile: HeldProfile) -> None:
        async with self.news:
            self.profiles.append(profile)
            self.news.notify_all()


class Charger(ABC):
    """A station of one EVSE that a test moves by hand. `dial` first, `hang_up` last."""

    subprotocol: ClassVar[str]

    def __init__(self, url: str, station_id: str, password: str | None = None) -> None:
        self.station_id = station_id
        self._url = f"{url.rstrip('/')}/{quote(station_id, safe='')}"
        self._password = password
        self.socket: ClientConnection | None = None
        self.talk: Any = None
        self._reader: asyncio.Task[None] | None = None

    @abstractmethod
    def _make(self, socket: ClientConnection) -> Any:
        """The package's own object on the socket."""

    @abstractmethod
    async def boot(self) -> tuple[str, int, str]:
        """(status, interval in s, the server's time)."""

    @abstractmethod
    async def heartbeat(self) -> str:
        """The server's time."""

    @abstractmethod
    async def available(self, at: datetime) -> None: ...

    @abstractmethod
    async def authorize(self, card: str) -> str: ...

    @abstractmethod
    async def start(self, card: str, at: datetime, register_wh: int) -> tuple[str, str]:
        """(transaction id, verdict)."""

    @abstractmethod
    async def meter(self, values: Values) -> None: ...

    @abstractmethod
    async def stop(self, at: datetime, register_wh: int) -> None: ...

    async def dial(self) -> None:
        """Raises websockets' InvalidStatus when the door stays shut."""
        headers = {}
        if self._password is not None:
            pair = f"{self.station_id}:{self._password}".encode()
            headers["Authorization"] = f"Basic {base64.b64encode(pair).decode()}"
        self.socket = await connect(
            self._url,
            subprotocols=[Subprotocol(self.subprotocol)],
            additional_headers=headers,
            proxy=None,
            open_timeout=20,
        )
        assert self.socket.subprotocol == self.subprotocol
        self.talk = self._make(self.socket)
        self.talk.frames, self.talk.faults, self.talk.profiles = [], [], []
        self.talk.news = asyncio.Condition()
        self._reader = asyncio.ensure_future(self._read())

    async def hang_up(self) -> None:
        if self.socket is not None and self.socket.state is not State.CLOSED:
            await self.socket.close()
        if self._reader is not None:
            await self._reader
        if self.talk is not None:
            faults = "\n".join(self.talk.faults)
            assert not faults, f"the station was told what breaks the official schemas: {faults}"

    async def call(self, payload: Any) -> Any:
        """Raises the package's exception of the code when the answer is a CALLERROR."""
        return await self.talk.call(payload, suppress=False)

    async def say(self, message: str | bytes) -> None:
        """Send whatever it is."""
        assert self.socket is not None
        await self.socket.send(message)

    async def heard(self, message_id: str, timeout_s: float = 20) -> list[Any]:
        """The first answer to that message, as it came."""

        def found() -> list[Any] | None:
            for frame in self.talk.frames:
                if frame[0] in (3, 4) and frame[1] == message_id:
                    assert isinstance(frame, list)
                    return frame
            return None

        try:
            async with asyncio.timeout(timeout_s), self.talk.news:
                await self.talk.news.wait_for(found)
        except TimeoutError:
            raise AssertionError(f"no answer to {message_id}, but {self.talk.frames}") from None
        frame = found()
        assert frame is not None
        return frame

    async def ended(self, timeout_s: float = 20) -> tuple[int | None, str | None]:
        """Code and reason with which the server closed the socket, once it has."""
        assert self.socket is not None
        async with asyncio.timeout(timeout_s):
            await self.socket.wait_closed()
        return self.socket.close_code, self.socket.close_reason

    async def profile(self, timeout_s: float = 20, **facts: Any) -> HeldProfile:
        """The first profile it was told, or will be, that has all those facts."""

        def found() -> HeldProfile | None:
            for held in self.talk.profiles:
                if all(getattr(held, name) == value for name, value in facts.items()):
                    assert isinstance(held, HeldProfile)
                    return held
            return None

        try:
            async with asyncio.timeout(timeout_s), self.talk.news:
                await self.talk.news.wait_for(found)
        except TimeoutError:
            raise AssertionError(f"no profile with {facts}, but {self.talk.profiles}") from None
        held = found()
        assert held is not None
        return held

    async def _read(self) -> None:
        try:
            await self.talk.start()
        except ConnectionClosed:
            return
        except AttributeError:
            # An answer of ours that meets a socket just lost: `websockets` aborts a transport that
            # asyncio has already let go of. Anything else stays an error.
            assert self.socket is not None
            if self.socket.state is not State.CLOSED:
                raise
