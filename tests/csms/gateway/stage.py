"""A gateway on a real port with small real counterparts around it, and a charger made of a bare socket.

Everything that the gateway sends to such a charger is judged by `jsonschema` with the official
schemas: another validator than the one in use.
"""

import asyncio
import base64
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import count
from typing import Any

import jsonschema  # type: ignore[import-untyped]
from websockets.asyncio.client import ClientConnection, connect
from websockets.typing import Subprotocol

from csms.clock import ManualClock
from csms.errors import NotFound
from csms.gateway.link import LinkPorts, LinkSettings
from csms.gateway.server import Door, Gateway, GatewaySettings
from csms.ocpp.schemas import Part, schema
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult
from csms.stations.credentials import StoredKey, store_key
from csms.stations.events import Event, MetersReported
from csms.stations.model import Registration, TokenAnswer, Verdict
from csms.stations.questions import (
    Answer,
    Boot,
    BootAnswer,
    MayCharge,
    Question,
    TransactionAnswer,
    TransactionReported,
    VendorAnswer,
    VendorMessage,
    VendorStatus,
)
from csms.stations.security.profile import NEW, Profile, Standing

KEY = "0001020304050607FFFFFFFFFFFFFFFFFFFFFFFF"
"""The key of the vector in OCPP-J 1.6 §6.2.2."""


@dataclass(frozen=True)
class Known:
    station_id: str
    registration: Registration = Registration.ACCEPTED
    key: StoredKey | None = None
    next_key: StoredKey | None = None
    standing: Standing = NEW

    @property
    def names(self) -> tuple[str, ...]:
        return (self.station_id,)


class Yard:
    """Stations in memory."""

    def __init__(self) -> None:
        self.known: dict[str, Known] = {}
        self.epochs = count(1)
        self.protocols: dict[str, str] = {}
        self.newest: dict[str, int] = {}
        self.lost_sockets: asyncio.Queue[tuple[str, int, bool, str]] = asyncio.Queue()
        self.signs_of_life = 0
        self.greetings: tuple[Command, ...] = ()
        self.broken = False
        self.duplicates: list[tuple[str, tuple[str, ...]]] = []

    def add(
        self, station_id: str, registration: Registration = Registration.ACCEPTED, key: str | None = None
    ) -> None:
        stored = None if key is None else store_key(key, b"salt of the yard")
        self.known[station_id] = Known(station_id, registration, stored)

    async def identify(self, identity: str) -> Known | None:
        if self.broken:
            raise OSError("the database is away")
        return self.known.get(identity)

    async def used_next_key(self, station_id: str, key: StoredKey, now: datetime) -> None:
        self.known[station_id] = replace(self.known[station_id], key=key, next_key=None)

    async def connected(
        self, station_id: str, protocol: str, now: datetime, profile: Profile | None = None
    ) -> int:
        if station_id not in self.known:
            raise NotFound("station", station_id)
        if self.broken:
            raise OSError("the database is away")
        self.protocols[station_id] = protocol
        if profile is not None:
            self.known[station_id] = replace(self.known[station_id], standing=Standing(profile))
        self.newest[station_id] = next(self.epochs)
        return self.newest[station_id]

    async def lost(self, station_id: str, epoch: int, now: datetime, reason: str = "") -> bool:
        was_newest = self.newest.get(station_id) == epoch
        await self.lost_sockets.put((station_id, epoch, was_newest, reason))
        return was_newest

    async def seen(self, station_id: str, now: datetime) -> None:
        self.signs_of_life += 1

    async def questions_after_connect(self, station_id: str) -> tuple[Command, ...]:
        return self.greetings

    async def duplicate(self, station_id: str, addresses: tuple[str, ...], now: datetime) -> None:
        self.duplicates.append((station_id, addresses))


class Diary:
    """A journal in memory; `entries` tells what was written, in order."""

    def __init__(self) -> None:
        self.entries: asyncio.Queue[tuple[str, str, object]] = asyncio.Queue()
        self.commands: list[tuple[str, Command, str]] = []

    async def asked(self, station_id: str, command: Command, *, asked_by: str = "") -> str:
        self.commands.append((station_id, command, asked_by))
        return f"cmd-{len(self.commands)}"

    async def answered(self, command_id: str, result: CommandResult) -> None:
        await self.entries.put((command_id, "answered", result))

    async def timed_out(self, command_id: str, detail: str = "") -> None:
        await self.entries.put((command_id, "timed_out", detail))

    async def offline(self, command_id: str, detail: str = "") -> None:
        await self.entries.put((command_id, "offline", detail))


class Shelf:
    """A quarantine in memory."""

    def __init__(self) -> None:
        self.kept: list[tuple[str, bytes, str]] = []
        self.broken = False

    async def keep(self, station_id: str, frame: bytes, reason: str, at: datetime) -> None:
        if self.broken:
            raise OSError("the disk is full")
        self.kept.append((station_id, frame, reason))

    @property
    def reasons(self) -> list[str]:
        return [reason for _, _, reason in self.kept]


@dataclass
class Answerer:
    """Owner of everything: answers as a benign central system would, and remembers what it was told.

    `hold`: what is asked waits until it is set. `fail`: it cannot be kept.
    """

    clock: ManualClock
    told: list[Question | Event] = field(default_factory=list)
    arrived: asyncio.Queue[Question | Event] = field(default_factory=asyncio.Queue)
    registration: Registration = Registration.ACCEPTED
    hold: asyncio.Event | None = None
    fail: bool = False

    async def ask(self, station_id: str, question: Any, now: datetime) -> Answer:
        await self.arrived.put(question)
        if self.hold is not None:
            await self.hold.wait()
        if self.fail:
            raise OSError("the database is away")
        self.told.append(question)
        match question:
            case Boot():
                return BootAnswer(self.registration, 300, now)
            case MayCharge():
                return TokenAnswer(Verdict.ACCEPTED)
            case TransactionReported():
                token = TokenAnswer(Verdict.ACCEPTED) if question.token else None
                return TransactionAnswer(question.transaction_id or "7", token)
            case VendorMessage():
                return VendorAnswer(VendorStatus.UNKNOWN_VENDOR)
            case _:
                return None

    @property
    def meters(self) -> list[MetersReported]:
        return [one for one in self.told if isinstance(one, MetersReported)]


class Charger:
    """A station's end of a socket."""

    def __init__(self, socket: ClientConnection, version: Version) -> None:
        self.socket = socket
        self.version = version
        self._numbers = count(1)

    async def send(self, *parts: Any) -> None:
        await self.socket.send(json.dumps(parts))

    async def receive(self) -> Any:
        return json.loads(await self.socket.recv())

    async def post(self, action: str, payload: object) -> str:
        """Send a call without waiting for the answer; returns its id."""
        message_id = f"m{next(self._numbers)}"
        await self.send(2, message_id, action, payload)
        return message_id

    async def call(self, action: str, payload: object) -> Any:
        """Send a call; the payload of its answer, judged, or the parts of the error."""
        message_id = await self.post(action, payload)
        answer = await self.receive()
        assert answer[1] == message_id, answer
        if answer[0] == 4:
            return answer
        assert answer[0] == 3
        self._judge(action, Part.RESPONSE, answer[2])
        return answer[2]

    async def expect_call(self, action: str) -> tuple[str, Any]:
        """The next message is our call of `action`, judged: its id and payload."""
        number, message_id, named, payload = await self.receive()
        assert (number, named) == (2, action)
        self._judge(action, Part.REQUEST, payload)
        return message_id, payload

    async def closed(self) -> tuple[int | None, str | None]:
        """Wait for the end; code and reason."""
        await self.socket.wait_closed()
        return self.socket.close_code, self.socket.close_reason

    def _judge(self, action: str, part: Part, payload: object) -> None:
        official = schema(self.version, action, part)
        jsonschema.validators.validator_for(official)(official).validate(payload)


class Stage:
    """The gateway and what is around it."""

    def __init__(
        self, clock: ManualClock, settings: GatewaySettings | None = None, doors: tuple[Door, ...] = ()
    ) -> None:
        self.clock = clock
        self.yard = Yard()
        self.diary = Diary()
        self.shelf = Shelf()
        self.owners = Answerer(clock)
        numbers = count(1)
        ports = LinkPorts(
            stations=self.yard,
            owners=self.owners,
            journal=self.diary,
            quarantine=self.shelf,
            clock=clock,
            new_id=lambda: f"ours-{next(numbers)}",
        )
        self.gateway = Gateway(ports, settings or GatewaySettings(), b"a secret of the stage", lambda: doors)
        self.registry = self.gateway.registry

    def url(self, path: str) -> str:
        return f"ws://127.0.0.1:{self.gateway.port}{path}"

    @asynccontextmanager
    async def charger(
        self,
        station_id: str,
        version: Version = Version.OCPP16,
        *,
        password: bytes | None = None,
        path: str | None = None,
        offers: tuple[str, ...] | None = None,
    ) -> AsyncIterator[Charger]:
        """A charger that is connected when the block begins."""
        headers = {} if password is None else {"Authorization": basic(station_id.encode(), password)}
        names = (version.subprotocol,) if offers is None else offers
        async with connect(
            self.url(path or f"/ocpp/{station_id}"),
            subprotocols=[Subprotocol(name) for name in names] or None,
            additional_headers=headers,
            proxy=None,
        ) as socket:
            yield Charger(socket, version)


def basic(user: bytes, password: bytes) -> str:
    """An Authorization header of HTTP Basic."""
    return "Basic " + base64.b64encode(user + b":" + password).decode()


def settings(**link: Any) -> GatewaySettings:
    """Settings of a gateway whose links have these."""
    return replace(GatewaySettings(), link=LinkSettings(**link))
