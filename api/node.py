"""One node: the chargers' socket and the web, in one loop of one process.

A lesser library would give each server its own loop; one loop means one clock, one database
writer and no locks. Stopping is in order: no new requests, sockets closed with "going away",
the writer finishes what it was handed, the database closes.
"""

import asyncio
import contextlib
import signal
import socket
from collections.abc import Callable, Iterator

import uvicorn

from api.app import create_app
from csms.app import Central
from csms.clock import Clock, SystemClock
from csms.settings import Settings


class _Web(uvicorn.Server):
    """uvicorn without its own hands on the signals, since this process has two servers."""

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self.listening = asyncio.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self.listening.set()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


class Node:
    """`start` and `stop` for tests and the demo; `run_until_stopped` for the command."""

    def __init__(self, settings: Settings, clock: Clock | None = None, *, speed_text: str = "") -> None:
        self.settings = settings
        self.central = Central(settings, clock or SystemClock(), speed_text=speed_text)
        self._socket: socket.socket | None = None
        self._web: _Web | None = None
        self._serving: asyncio.Task[None] | None = None

    @property
    def http_url(self) -> str:
        """Where the web is, as seen from this machine."""
        assert self._socket is not None, "not started"
        return f"http://127.0.0.1:{self._socket.getsockname()[1]}"

    @property
    def ocpp_url(self) -> str:
        """Where chargers connect, as seen from this machine; the identity follows."""
        return f"ws://127.0.0.1:{self.central.ocpp_port}/ocpp/"

    async def start(self) -> None:
        """Open the database, then both servers. Raises OSError when a port is taken."""
        self._socket = socket.create_server((self.settings.host, self.settings.http_port))
        if not self.settings.http_port and not self.settings.public_url:
            self.central.web_url = self.http_url  # any free port: known only now
        try:
            await self.central.start()
        except BaseException:
            self._socket.close()
            raise
        config = uvicorn.Config(
            create_app(self.central),
            log_level="warning",
            access_log=False,
            lifespan="off",
            timeout_graceful_shutdown=2,
            server_header=False,
        )
        self._web = _Web(config)
        self._serving = self.central.tasks.spawn(self._web.serve([self._socket]), "web")
        await self._web.listening.wait()

    async def stop(self) -> None:
        """Stop both servers and close the database."""
        self.central.bus.close()
        if self._web is not None and self._serving is not None:
            self._web.should_exit = True
            await asyncio.wait([self._serving], timeout=5)
        await self.central.stop()

    async def run_until_stopped(self, announce: Callable[[str], None]) -> None:
        """Serve until SIGTERM or SIGINT."""
        stop = asyncio.Event()
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, stop.set)
        await self.start()
        announce(f"pages and REST: {self.http_url}")
        announce(f"chargers:       {self.ocpp_url}{{identity}}")
        for profile, address in sorted(self.central.security.addresses().items()):
            if address.startswith("wss:"):
                announce(f"  profile {profile:d}:    {address}{{identity}}")
        try:
            await stop.wait()
        finally:
            await self.stop()
