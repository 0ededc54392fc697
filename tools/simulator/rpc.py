"""The station's end of OCPP-J on one open socket: calls out, calls in, one of ours open at a time."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final, Protocol

import orjson
from websockets.exceptions import ConnectionClosed

Payload = dict[str, Any]
CALL: Final = 2
RESULT: Final = 3
ERROR: Final = 4
log = logging.getLogger(__name__)


class RpcFault(Exception):
    """RpcFault
    ├── CallRefused    we cannot serve the peer's call: answered as CALLERROR
    ├── CallFailed     the peer answered ours with CALLERROR
    └── Unanswered     no answer
        ├── TimedOut   not in time
        └── Offline    there is no socket, or it closed meanwhile
    """


class CallRefused(RpcFault):
    def __init__(self, code: str, description: str = "") -> None:
        super().__init__(f"{code}: {description}")
        self.code, self.description = code, description


class CallFailed(RpcFault):
    def __init__(self, action: str, code: str, description: str) -> None:
        super().__init__(f"{action} was answered {code}: {description}")
        self.action, self.code, self.description = action, code, description


class Unanswered(RpcFault):
    pass


class TimedOut(Unanswered):
    pass


class Offline(Unanswered):
    pass


@dataclass(frozen=True, slots=True)
class Answer:
    """What to answer, and what to do once the answer is on its way."""

    payload: Payload
    then: Callable[[], Awaitable[None]] | None = None


class Socket(Protocol):
    """What is needed of a WebSocket connection."""

    async def send(self, message: str) -> None: ...

    async def recv(self) -> str | bytes: ...


class Rpc:
    """`handle` gets (action, payload) of the peer's calls and returns an Answer or raises CallRefused.

    `ids` gives the message ids of our calls. `timeout_s` is in real seconds: it is the network's, not the
    battery's.
    """

    def __init__(
        self,
        socket: Socket,
        handle: Callable[[str, Payload], Answer],
        *,
        ids: Iterator[str],
        timeout_s: float,
        formation_error: str,
    ) -> None:
        self._socket = socket
        self._handle = handle
        self._ids = ids
        self._timeout_s = timeout_s
        self._formation_error = formation_error
        self._turn = asyncio.Lock()
        self._open: tuple[str, asyncio.Future[Payload], str] | None = None
        self._closed = False

    async def call(self, action: str, payload: Payload) -> Payload:
        """Send a call when it is our turn and return the result's payload. Raises CallFailed, TimedOut,
        Offline."""
        async with self._turn:
            if self._closed:
                raise Offline(action)
            message_id = next(self._ids)
            answer: asyncio.Future[Payload] = asyncio.get_running_loop().create_future()
            self._open = (message_id, answer, action)
            try:
                await self._send([CALL, message_id, action, payload])
                async with asyncio.timeout(self._timeout_s):  # not wait_for: it may swallow a cancellation
                    return await answer
            except TimeoutError:
                raise TimedOut(f"{action}: no answer in {self._timeout_s} s") from None
            finally:
                self._open = None

    async def read(self, follow_up: Callable[[Awaitable[None]], None]) -> None:
        """Serve the socket until it closes; `follow_up` starts what an Answer asks to do afterwards."""
        try:
            while True:
                await self._receive(await self._socket.recv(), follow_up)
        except ConnectionClosed as closed:
            log.debug("socket closed: %s", closed)
        finally:
            self._closed = True
            if self._open is not None and not self._open[1].done():
                self._open[1].set_exception(Offline(f"{self._open[2]}: the socket closed before the answer"))
                self._open[1].exception()  # seen, even if who called has been cancelled with the socket

    async def _receive(self, text: str | bytes, follow_up: Callable[[Awaitable[None]], None]) -> None:
        try:
            frame = orjson.loads(text)
            kind, message_id = frame[0], str(frame[1])
        except (orjson.JSONDecodeError, IndexError, TypeError, KeyError):
            log.warning("unreadable frame: %.200r", text)
            return
        if kind == CALL and len(frame) == 4:
            await self._serve(message_id, str(frame[2]), frame[3] or {}, follow_up)
        elif kind in (RESULT, ERROR):
            self._settle(message_id, frame)

    def _settle(self, message_id: str, frame: list[Any]) -> None:
        if self._open is None or self._open[0] != message_id or self._open[1].done():
            log.debug("answer to nothing open: %s", message_id)
            return
        _, future, action = self._open
        if frame[0] == RESULT:
            future.set_result(frame[2] or {})
        else:
            future.set_exception(CallFailed(action, str(frame[2]), str(frame[3]) if len(frame) > 3 else ""))

    async def _serve(
        self, message_id: str, action: str, payload: Payload, follow_up: Callable[[Awaitable[None]], None]
    ) -> None:
        try:
            answer = self._handle(action, payload)
        except CallRefused as refusal:
            await self._send([ERROR, message_id, refusal.code, refusal.description[:255], {}])
            return
        except (KeyError, IndexError, TypeError, ValueError) as fault:
            description = f"{action}: {type(fault).__name__} {fault}"
            await self._send([ERROR, message_id, self._formation_error, description[:255], {}])
            return
        await self._send([RESULT, message_id, answer.payload])
        if answer.then is not None:
            follow_up(answer.then())

    async def _send(self, frame: list[Any]) -> None:
        try:
            await self._socket.send(orjson.dumps(frame).decode())
        except ConnectionClosed:
            raise Offline("the socket is closed") from None
