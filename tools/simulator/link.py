"""What both versions share: connect, back off, boot, heartbeat, tell states, deliver the outbox."""

import asyncio
import base64
import itertools
import logging
from abc import ABC, abstractmethod
from collections.abc import Awaitable, Iterator
from dataclasses import dataclass
from datetime import datetime
from random import Random
from typing import TYPE_CHECKING, ClassVar
from urllib.parse import quote

from websockets.asyncio.client import connect
from websockets.exceptions import WebSocketException
from websockets.typing import Subprotocol

from tools.simulator.bay import Bay
from tools.simulator.outbox import Outbox
from tools.simulator.rpc import Answer, CallRefused, Offline, Payload, Rpc, RpcFault
from tools.simulator.session import Reason, Session, Trigger

if TYPE_CHECKING:
    from tools.simulator.station import Station

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSettings:
    """`url` is the endpoint without the identity. All times here are real seconds.

    After the n-th failed connection the station waits `wait_min_s` doubled n - 1 times (at most
    `doublings`), plus a random part up to `wait_random_s` (the back-off of OCPP 2.0.1 part 4; 1.6 has no
    rule).
    """

    url: str
    call_timeout_s: float = 30.0
    wait_min_s: float = 1.0
    wait_random_s: float = 1.0
    doublings: int = 5
    boots_on_reconnect: bool = False


@dataclass(frozen=True, slots=True)
class Registration:
    """What the central system answered to a boot; `status` as on the wire."""

    status: str
    interval_s: int
    now: datetime | None


class Link(ABC):
    """One station's line to its central system. `run` lives until cancelled; the `tell_` methods never
    wait."""

    subprotocol: ClassVar[str]
    formation_error: ClassVar[str]

    def __init__(self, station: "Station", settings: LinkSettings, random: Random) -> None:
        self.station = station
        self.settings = settings
        self._random = random
        self._rpc: Rpc | None = None
        self._wanted = asyncio.Event()
        self._wanted.set()
        self._accepted = asyncio.Event()
        self._registered = False
        self._rejected = False
        self._ids = self._message_ids()
        self._untold: dict[int, Bay | None] = {}
        self._tell = asyncio.Event()
        self._drop = asyncio.Event()
        self._follow_ups: set[asyncio.Task[None]] = set()
        self.connections = 0
        options = station.options
        self.outbox = Outbox(
            station.clock,
            attempts=lambda: options.message_attempts,
            interval_s=lambda: options.message_retry_s,
        )

    # --- what a version says -------------------------------------------------------------------

    @abstractmethod
    async def boot(self) -> Registration: ...

    @abstractmethod
    async def heartbeat(self) -> datetime | None: ...

    @abstractmethod
    async def authorize_online(self, token: str) -> str:
        """Ask the central system and return its status word."""

    @abstractmethod
    async def send_condition(self, bay: Bay | None) -> None:
        """Tell the state of a bay, or of the station as a whole."""

    @abstractmethod
    def tell_started(self, bay: Bay, session: Session, trigger: Trigger) -> None: ...

    @abstractmethod
    def tell_updated(self, bay: Bay, session: Session, trigger: Trigger) -> None: ...

    @abstractmethod
    def tell_metered(self, bay: Bay, session: Session | None, trigger: Trigger) -> None: ...

    @abstractmethod
    def tell_ended(self, bay: Bay, session: Session, reason: Reason, trigger: Trigger) -> None: ...

    @abstractmethod
    def serve(self, action: str, payload: Payload) -> Answer:
        """Answer a call of the central system; raises CallRefused."""

    # --- used by the station -------------------------------------------------------------------

    @property
    def online(self) -> bool:
        """Connected and accepted."""
        return self._accepted.is_set()

    async def accepted(self) -> None:
        """Return when connected and accepted."""
        await self._accepted.wait()

    def tell_condition(self, bay: Bay | None) -> None:
        """The newest state of a bay is told as soon as the line is up; older ones are not."""
        self._untold[0 if bay is None else bay.number] = bay
        self._tell.set()

    async def call(self, action: str, payload: Payload) -> Payload:
        """Raises RpcFault."""
        if self._rpc is None:
            raise Offline(action)
        return await self._rpc.call(action, payload)

    def cut(self) -> None:
        """The network is gone until `mend`: no closing handshake."""
        self._wanted.clear()
        self._drop.set()

    def mend(self) -> None:
        self._wanted.set()

    def reboot(self) -> None:
        """Close the socket, come back and boot."""
        self._registered = False
        self._drop.set()

    # --- the line ------------------------------------------------------------------------------

    async def run(self) -> None:
        async with asyncio.TaskGroup() as group:
            group.create_task(self.outbox.pump(self.call, self._accepted))
            group.create_task(self._keep_connected())

    async def _keep_connected(self) -> None:
        failures = 0
        while True:
            await self._wanted.wait()
            self._drop.clear()
            before = self.connections
            try:
                await self._connect_once()
            except (OSError, WebSocketException, TimeoutError, RpcFault) as fault:
                log.info("%s: %s", self.station.identity, fault)
            finally:
                self._rpc = None
                self._accepted.clear()
            failures = 1 if self.connections > before else failures + 1
            settings = self.settings
            doubled: float = 2 ** min(failures - 1, settings.doublings)
            await asyncio.sleep(
                settings.wait_min_s * doubled + self._random.uniform(0, settings.wait_random_s)
            )

    async def _connect_once(self) -> None:
        ping_s = self.station.options.ping_s
        async with connect(
            f"{self.settings.url.rstrip('/')}/{quote(self.station.identity, safe='')}",
            subprotocols=[Subprotocol(self.subprotocol)],
            additional_headers=self._headers(),
            compression=None,
            ping_interval=ping_s or None,
            proxy=None,
            open_timeout=15,
            close_timeout=2,
        ) as socket:
            if socket.subprotocol != self.subprotocol:
                raise OSError(f"the central system does not speak {self.subprotocol}")
            self.connections += 1
            self._rpc = Rpc(
                socket,
                self._guarded,
                ids=self._ids,
                timeout_s=self.settings.call_timeout_s,
                formation_error=self.formation_error,
            )
            reader = asyncio.ensure_future(self._rpc.read(self._start_follow_up))
            tasks = [reader, asyncio.ensure_future(self._live()), asyncio.ensure_future(self._drop.wait())]
            try:
                done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
                for task in done:
                    if fault := task.exception():
                        raise fault
            finally:
                for task in (*tasks, *self._follow_ups):
                    task.cancel()
                await asyncio.gather(*tasks, *self._follow_ups, return_exceptions=True)
                if not self._wanted.is_set():
                    socket.transport.abort()
                await socket.close()

    def _headers(self) -> dict[str, str]:
        password = self.station.options.password
        if password is None:
            return {}
        secret = password if isinstance(password, bytes) else password.encode()
        pair = self.station.identity.encode() + b":" + secret
        return {"Authorization": f"Basic {base64.b64encode(pair).decode()}"}

    def _guarded(self, action: str, payload: Payload) -> Answer:
        if self._rejected:
            raise CallRefused("SecurityError", "this station was rejected and is silent")
        return self.serve(action, payload)

    async def _live(self) -> None:
        if not self._registered or self.settings.boots_on_reconnect:
            await self._register()
        self._accepted.set()
        self.tell_condition(None)
        for bay in self.station.bays:
            self.tell_condition(bay)
        async with asyncio.TaskGroup() as group:
            group.create_task(self._beat())
            group.create_task(self._tell_conditions())

    async def _register(self) -> None:
        while True:
            try:
                registration = await self.boot()
            except Offline:
                raise
            except RpcFault as fault:
                log.info("%s: %s", self.station.identity, fault)
                await self.station.clock.sleep(self.station.options.message_retry_s)
                continue
            self.station.hear_time(registration.now)
            self._rejected = registration.status == "Rejected"
            if registration.status == "Accepted":
                self._registered = True
                self.station.options.heartbeat_s = max(1, registration.interval_s or 300)
                return
            await self.station.clock.sleep(registration.interval_s or 60)

    async def _beat(self) -> None:
        while True:
            await self.station.clock.sleep(self.station.options.heartbeat_s)
            try:
                self.station.hear_time(await self.heartbeat())
            except RpcFault as fault:
                log.info("%s: %s", self.station.identity, fault)

    async def _tell_conditions(self) -> None:
        while True:
            await self._tell.wait()
            self._tell.clear()
            while self._untold:
                number = min(self._untold)
                bay = self._untold.pop(number)
                try:
                    await self.send_condition(bay)
                except RpcFault as fault:
                    log.info("%s: %s", self.station.identity, fault)

    def _start_follow_up(self, work: Awaitable[None]) -> None:
        task = asyncio.ensure_future(self._follow(work))
        self._follow_ups.add(task)
        task.add_done_callback(self._follow_ups.discard)

    async def _follow(self, work: Awaitable[None]) -> None:
        try:
            await work
        except RpcFault as fault:
            log.info("%s: %s", self.station.identity, fault)

    def _message_ids(self) -> Iterator[str]:
        prefix = f"{self._random.getrandbits(64):016x}"
        for number in itertools.count(1):
            yield f"{prefix}-{number}"
