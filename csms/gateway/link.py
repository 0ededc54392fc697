"""One station's socket: pumps it through engine, translator and the owners of what was said.

Calls of the station are handled one after the other, in order, by a worker beside the reader, so
that the reader can take the answers to our own commands meanwhile. When too many wait, the
reader stops, and the station with it; so it does for one that talks faster than its bucket
allows. A call is answered when its owner has committed.

Nothing that is read ends the link, but for a stream of garbage. What could not be read is kept
in the quarantine. What was handed to the worker is carried out even when the socket is gone.
"""

import asyncio
import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from websockets.exceptions import ConnectionClosed

from csms.clock import Clock
from csms.errors import StationError
from csms.gateway.admission import may_say
from csms.gateway.asking import Asking
from csms.gateway.bucket import Bucket
from csms.gateway.outlet import Outlet
from csms.gateway.ports import NO_QUIRKS, Journal, Owners, Quarantine, Quirks, Socket, Stations
from csms.ocpp.adapter import Adapter, Unreadable
from csms.ocpp.faults import Fault
from csms.ocpp.frames import Limits
from csms.ocpp.quirks import put_right
from csms.ocpp.rpc import Rpc
from csms.ocpp.rpc_items import InboundCall, InboundSend, Unusable
from csms.stations.commands import Command, CommandResult, Trigger, TriggerKind
from csms.stations.model import Registration
from csms.stations.questions import BootAnswer
from csms.tasks import Tasks

log = logging.getLogger(__name__)

WAITING_CALLS = 64
"""Calls of the station that may wait for the worker; a station that keeps to the standard has one."""
RECOVERY = 0.05
"""How much of one unreadable frame a readable one makes up for."""
DEAF_AFTER = 4
"""Commands in a row without an answer after which the station is made to connect anew."""
ANSWERED_EMPTY = frozenset({"StopTransaction", "MeterValues", "TransactionEvent"})
"""Their answer may be empty: a station can be told that we have a message that nobody can read."""

CLOSE_PROTOCOL = 1002
CLOSE_POLICY = 1008
CLOSE_TOO_BIG = 1009
CLOSE_FAILED = 1011
CLOSE_TAKEN_OVER = 4001
CLOSE_DEAF = 4002


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSettings:
    """`settle_s`: how long after connecting or booting a station is left alone before it is asked.

    `messages_per_s`, `burst`: how fast a station may talk in the long run, and at once.
    """

    call_timeout_s: float = 30.0
    ttl_s: float = 60.0
    garbage_limit: int = 20
    settle_s: float = 3.0
    messages_per_s: float = 50.0
    burst: int = 1000
    limits: Limits = field(default_factory=Limits)


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkPorts:
    """Whom a link tells and asks. `new_id` makes message ids, random and 36 characters at most."""

    stations: Stations
    owners: Owners
    journal: Journal
    quarantine: Quarantine
    clock: Clock
    new_id: Callable[[], str]
    quirks: Quirks = NO_QUIRKS


@dataclass(frozen=True, slots=True)
class _Said:
    call: InboundCall | InboundSend
    raw: str
    at: datetime


class Link:
    """A connected station: `pump` until the socket ends, then `drain`."""

    def __init__(
        self,
        station_id: str,
        epoch: int,
        registration: Registration,
        adapter: Adapter,
        socket: Socket,
        ports: LinkPorts,
        settings: LinkSettings,
        address: str = "",
    ) -> None:
        self.station_id = station_id
        self.address = address
        self.epoch = epoch
        self.registration = registration
        self.version = adapter.version
        self.end_reason = ""
        self._adapter = adapter
        self._socket = socket
        self._ports = ports
        self._clock = ports.clock
        self._settings = settings
        self._rpc = Rpc(adapter.version, adapter.inbound_actions, ports.new_id, settings.limits)
        self.counts = self._rpc.counts
        self._outlet = Outlet(socket)
        self._asking = Asking(
            station_id, self._rpc, adapter, self._outlet, ports.journal, ports.clock, self._silent
        )
        self._said: asyncio.Queue[_Said | None] = asyncio.Queue(WAITING_CALLS)
        self._tasks = Tasks()
        self._worker: asyncio.Task[None] | None = None
        self._greeting: asyncio.Task[None] | None = None
        self._garbage = 0.0
        self._bucket = Bucket(settings.messages_per_s, settings.burst, ports.clock.monotonic())
        self._closed = False

    async def pump(self) -> None:
        """Take what comes until the socket ends; our own commands under way end with it."""
        self._worker = self._tasks.spawn(self._work(), f"calls of {self.station_id}")
        self._greet()
        try:
            while True:
                await self._receive(await self._socket.recv())
                if wait_s := self._bucket.take(self._clock.monotonic()):
                    await self._clock.sleep(wait_s)
        except ConnectionClosed as ended:
            close = ended.rcvd or ended.sent
            told = f"closed with {close.code} {close.reason}".strip() if close else "the connection broke"
            self.end_reason = self.end_reason or told
            if ended.sent is not None and ended.sent.code == CLOSE_TOO_BIG:
                # Else nobody would learn why a station goes on sending the same message for ever.
                await self._keep(b"", "a frame beyond the limit", self._clock.now())
        finally:
            self._closed = True
            if self._greeting is not None:
                self._greeting.cancel()
            await self._asking.close()

    async def drain(self) -> None:
        """Carry out what came before the end."""
        if self._worker is not None:
            await self._said.put(None)
            await self._worker
        await self._tasks.close()

    async def ask(
        self,
        command: Command,
        *,
        timeout_s: float | None = None,
        ttl_s: float | None = None,
        asked_by: str = "",
        routine: bool = False,
    ) -> CommandResult:
        """See `Asking.ask`; times not given are those of the settings."""
        return await self._asking.ask(
            command,
            self.registration,
            timeout_s=timeout_s or self._settings.call_timeout_s,
            ttl_s=ttl_s or self._settings.ttl_s,
            asked_by=asked_by,
            routine=routine,
        )

    def hang_up(self, code: int, reason: str) -> None:
        """Close the socket with `code`, without waiting for the station to agree."""
        if self.end_reason:
            return
        self.end_reason = reason
        self._tasks.spawn(self._socket.close(code, reason), f"hanging up on {self.station_id}")

    def ask_to_boot(self) -> None:
        """Ask a station that waited to boot, since it learns only by a boot that it is accepted now."""
        asking = self._ask_in_turn([Trigger(TriggerKind.BOOT)])
        self._tasks.spawn(asking, f"asking {self.station_id} to boot")

    # ---- the reader -------------------------------------------------------------------

    async def _receive(self, message: str | bytes) -> None:
        at = self._clock.now()
        try:
            if isinstance(message, bytes):
                await self._unusable(Unusable("a binary frame", Fault.FRAMEWORK, True, False), message, at)
            else:
                await self._read(message, at)
            await self._ports.stations.seen(self.station_id, at)
        except Exception:
            log.exception("a message of %s could not be taken", self.station_id)

    async def _read(self, text: str, at: datetime) -> None:
        step = self._rpc.receive(text, self._clock.monotonic())
        self._asking.take(step)
        await self._outlet.flush()
        for item in step.items:
            if isinstance(item, InboundCall | InboundSend):
                await self._said.put(_Said(item, text, at))
            elif isinstance(item, Unusable):
                await self._unusable(item, text, at)
        if not any(isinstance(item, Unusable) and item.malformed for item in step.items):
            self._garbage = max(0.0, self._garbage - RECOVERY)

    async def _unusable(self, item: Unusable, raw: str | bytes, at: datetime) -> None:
        await self._keep(raw, item.problem, at)
        if item.malformed:
            self._garbage += 1
            if self._garbage >= self._settings.garbage_limit:
                self.hang_up(CLOSE_POLICY, "too many unreadable messages")

    async def _keep(self, raw: str | bytes, reason: str, at: datetime) -> None:
        frame = raw if isinstance(raw, bytes) else raw.encode()
        try:
            await self._ports.quarantine.keep(self.station_id, frame, reason, at)
        except Exception:
            log.exception("a frame of %s could not be put aside: %s", self.station_id, reason)

    # ---- the worker -------------------------------------------------------------------

    async def _work(self) -> None:
        while (said := await self._said.get()) is not None:
            try:
                await self._handle(said)
            except Exception:
                log.exception("a call of %s could not be answered", self.station_id)

    async def _handle(self, said: _Said) -> None:
        if may_say(self.registration, said.call.action, self._asking.provoked):
            await self._ask_owner(said)
        else:
            self._refuse(said, Fault.SECURITY, f"{said.call.action} is for accepted stations")
        await self._outlet.flush()

    async def _ask_owner(self, said: _Said) -> None:
        call = said.call
        wrong = call.violations if isinstance(call, InboundCall) else ()
        try:
            payload, deviations = call.payload, call.deviations
            if (quirk := await self._ports.quirks.of(self.station_id)) is not None:
                payload, mended = put_right(payload, quirk)
                deviations = (*deviations, *mended)
            question = self._adapter.inbound(call.action, payload, said.at, deviations)
            if wrong:
                await self._keep(said.raw, f"{call.action}: {wrong[0]}", said.at)
            answer = await self._ports.owners.ask(self.station_id, question, said.at)
            result = self._adapter.answer(question, answer, self._clock.now())
            if isinstance(answer, BootAnswer):
                self.registration = answer.registration
                self._ports.quirks.forget(self.station_id)
                self._greet()
            self._answer(said, result)
        except Unreadable as error:
            await self._keep(said.raw, f"{call.action}: {error}", said.at)
            if call.action in ANSWERED_EMPTY:
                self._answer(said, {})
            else:
                self._refuse(said, wrong[0].fault if wrong else Fault.PROPERTY, str(error))
        except Exception as error:
            log.exception("%s of %s could not be handled", call.action, self.station_id)
            await self._keep(said.raw, f"{call.action}: {type(error).__name__}", said.at)
            # The station keeps the message and sends it again: no answer for what is not kept here.
            self._refuse(said, Fault.INTERNAL, "")

    def _answer(self, said: _Said, payload: dict[str, Any]) -> None:
        if not self._closed and isinstance(said.call, InboundCall):
            self._outlet.put(self._rpc.answer(said.call, payload, self._clock.monotonic()).texts)

    def _refuse(self, said: _Said, fault: Fault, text: str) -> None:
        if not self._closed and isinstance(said.call, InboundCall):
            self._outlet.put(self._rpc.refuse(said.call, fault, text, self._clock.monotonic()).texts)

    # ---- of our own accord ------------------------------------------------------------

    def _silent(self, in_a_row: int) -> None:
        if in_a_row >= DEAF_AFTER:
            self.hang_up(CLOSE_DEAF, "commands are not answered")

    def _greet(self) -> None:
        """Ask an accepted station what may have changed unheard, once it has settled."""
        if self._greeting is not None:
            self._greeting.cancel()
        if self.registration is Registration.ACCEPTED and not self._closed:
            self._greeting = self._tasks.spawn(self._ask_after_connect(), f"greeting {self.station_id}")

    async def _ask_after_connect(self) -> None:
        await self._clock.sleep(self._settings.settle_s)
        await self._ask_in_turn(await self._ports.stations.questions_after_connect(self.station_id))

    async def _ask_in_turn(self, commands: Iterable[Command]) -> None:
        for command in commands:
            try:
                await self.ask(command)
            except StationError as error:
                log.info("%s", error)
