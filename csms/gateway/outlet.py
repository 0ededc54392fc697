"""The way out to one station: texts leave in the order in which they were put, from whichever task."""

import asyncio
from collections import deque
from collections.abc import Iterable

from websockets.exceptions import ConnectionClosed

from csms.gateway.ports import Socket


class Outlet:
    """`put` is plain and keeps the order; `flush` writes, and waits for a station that reads slowly."""

    def __init__(self, socket: Socket) -> None:
        self._socket = socket
        self._texts: deque[str] = deque()
        self._writing = asyncio.Lock()

    def put(self, texts: Iterable[str]) -> None:
        """Line up `texts` behind what is there."""
        self._texts.extend(texts)

    async def flush(self) -> None:
        """Write what is lined up. A socket that has ended swallows it: its reader tells of the end."""
        async with self._writing:
            while self._texts:
                try:
                    await self._socket.send(self._texts.popleft())
                except ConnectionClosed:
                    self._texts.clear()
