"""A WebSocket without a wire: what the gateway needs of one, and the station's end of it."""

import asyncio
from collections import deque

from websockets.exceptions import ConnectionClosedError, ConnectionClosedOK
from websockets.frames import Close


class Wire:
    """`say` for the station; `recv`, `send`, `close` for the link. `sent` is what the link sent;
    `news` is set when that, or the end, changes."""

    def __init__(self) -> None:
        self.sent: deque[str] = deque()
        self.closed: Close | None = None
        self.news = asyncio.Event()
        self._said: asyncio.Queue[str | bytes | None] = asyncio.Queue()

    def say(self, message: str | bytes) -> None:
        self._said.put_nowait(message)

    def hang_up(self) -> None:
        """The station goes, as after an outage."""
        self._said.put_nowait(None)

    async def recv(self) -> str | bytes:
        if self.closed is not None:
            raise ConnectionClosedOK(None, self.closed)
        message = await self._said.get()
        if self.closed is not None:
            raise ConnectionClosedOK(None, self.closed)
        if message is None:
            raise ConnectionClosedError(None, None)
        return message

    async def send(self, message: str) -> None:
        if self.closed is not None:
            raise ConnectionClosedOK(None, self.closed)
        self.sent.append(message)
        self.news.set()

    async def close(self, code: int = 1000, reason: str = "") -> None:
        self.closed = self.closed or Close(code, reason)
        self.news.set()
        self._said.put_nowait(None)
