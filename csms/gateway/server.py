"""Listens for stations, lets them in or not, and hands each socket to a link.

At the door: an identity that nobody knows gets 404, a wrong or missing key 401, both before
the upgrade. With no version in common the handshake is completed without a subprotocol and
the socket closed at once, as the standard wants it; a station that is set to be taken so speaks
OCPP 1.6 when it names no version at all. permessage-deflate is agreed to with OCPP
2.x only, where we must; it costs 33 KiB of memory a socket.

There are up to three doors: plain, TLS, TLS with a certificate of the station; who may come by
which is `csms.stations.security.profile`. Who was wrong too often waits (429).
"""

import asyncio
import logging
import math
import ssl
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from http import HTTPStatus
from typing import Any

from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.http11 import Request, Response
from websockets.typing import Subprotocol

from csms.errors import NotFound
from csms.gateway.guesses import Guesses
from csms.gateway.handshake import basic_credentials, choose_version, identity_of, offered_subprotocols
from csms.gateway.keys import KeyCheck
from csms.gateway.link import CLOSE_FAILED, CLOSE_POLICY, CLOSE_PROTOCOL, Link, LinkPorts, LinkSettings
from csms.gateway.ports import Caller
from csms.gateway.registry import Registry
from csms.ocpp.adapter import VERSIONS, adapter_for
from csms.ocpp.frames import Limits
from csms.ocpp.version import Version
from csms.security.certificate import read_der, why_not_of_station
from csms.stations.security.profile import Profile, Way, enter

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Door:
    """A further port with TLS; 0: any free one."""

    way: Way
    port: int
    tls: ssl.SSLContext


@dataclass(frozen=True, slots=True, kw_only=True)
class GatewaySettings:
    """`port` 0: any free one. A station that answers no ping and says nothing for two intervals is gone.

    `organization`: whose name certificates of stations must bear; "": anybody's.
    """

    host: str = "127.0.0.1"
    port: int = 0
    ping_interval_s: float = 20.0
    max_frame_bytes: int = 4 * 1024 * 1024
    organization: str = ""
    link: LinkSettings = field(default_factory=LinkSettings)


class StationConnection(ServerConnection):
    """A socket, and what was found out about it at the door."""

    caller: Caller | None = None
    version: Version | None = None
    spelled: str | None = None
    way: Way = Way.PLAIN
    reached: Profile | None = None
    messages = 0

    async def recv(self, decode: bool | None = None) -> Any:
        message = await super().recv(decode)
        self.messages += 1
        return message

    async def keepalive(self) -> None:
        """Ping at intervals. Gone is who neither answers nor says anything for two of them: some stations
        answer no ping, and live."""
        assert self.ping_interval is not None
        silent = 0
        while silent < SILENT_ROUNDS:
            if not silent:
                await asyncio.sleep(self.ping_interval)
            before, pong = self.messages, asyncio.ensure_future(await self.ping())
            await asyncio.wait([pong], timeout=self.ping_interval)
            silent = 0 if pong.done() or self.messages != before else silent + 1
        await self.close(CLOSE_FAILED, "no sign of life")


class TlsConnection(StationConnection):
    way = Way.TLS


class MutualConnection(StationConnection):
    way = Way.MUTUAL


SILENT_ROUNDS = 2
"""Pings in a row without any sign of life after which a station is gone."""
DOOR_S = 60.0
"""How long one may stand at the door: when all come back at once, hashing their keys takes a while."""

CONNECTIONS = {Way.PLAIN: StationConnection, Way.TLS: TlsConnection, Way.MUTUAL: MutualConnection}


class Gateway:
    """The server for stations. `secret` is random and made anew for each process.

    `doors`: the further ones, asked for when it opens.
    """

    def __init__(
        self,
        ports: LinkPorts,
        settings: GatewaySettings,
        secret: bytes,
        doors: Callable[[], tuple[Door, ...]] = tuple,
    ) -> None:
        self.registry = Registry(ports.journal)
        self.ports = ports
        self._settings = settings
        self._link_settings = replace(settings.link, limits=Limits(characters=settings.max_frame_bytes))
        self._keys = KeyCheck(secret)
        self._guesses = Guesses()
        self._doors = doors
        self._servers: dict[Way, Server] = {}

    @property
    def port(self) -> int:
        """The port of the plain door, once opened."""
        return self.port_of(Way.PLAIN)

    def opened(self) -> dict[Way, int]:
        """The ports of the doors that are open."""
        return {way: self.port_of(way) for way in self._servers}

    def port_of(self, way: Way) -> int:
        """The port of a door, once opened."""
        assert way in self._servers, "not opened"
        port: int = next(iter(self._servers[way].sockets)).getsockname()[1]
        return port

    async def open(self) -> None:
        """Begin to listen at every door. Raises OSError when a port is taken."""
        await self._open(Way.PLAIN, self._settings.port, None)
        for door in self._doors():
            await self._open(door.way, door.port, door.tls)

    async def _open(self, way: Way, port: int, tls: ssl.SSLContext | None) -> None:
        self._servers[way] = await serve(
            self._serve,
            self._settings.host,
            port,
            ssl=tls,
            create_connection=CONNECTIONS[way],
            process_request=self._at_the_door,
            select_subprotocol=_select,
            compression="deflate",
            max_size=self._settings.max_frame_bytes,
            open_timeout=DOOR_S,
            ping_interval=self._settings.ping_interval_s,
            server_header=None,
        )

    async def close(self) -> None:
        """Close every socket with "going away"; returns when what had come is carried out."""
        servers = tuple(self._servers.values())
        for server in servers:
            server.close()
        for server in servers:
            await server.wait_closed()

    async def _at_the_door(self, connection: ServerConnection, request: Request) -> Response | None:
        assert isinstance(connection, StationConnection)
        try:
            refusal = await self._let_in(connection, request)
        except Exception:
            log.exception("a station at %s could not be let in", request.path[:100])
            return connection.respond(HTTPStatus.SERVICE_UNAVAILABLE, "Come again later.\n")
        if refusal is not None:
            log.warning(
                "refused %s at %s: %d", connection.remote_address, request.path[:100], refusal.status_code
            )
        return refusal

    async def _let_in(self, connection: StationConnection, request: Request) -> Response | None:
        identity = identity_of(request.path)
        caller = None if identity is None else await self.ports.stations.identify(identity)
        if identity is None or caller is None:
            return connection.respond(HTTPStatus.NOT_FOUND, "There is no such station.\n")
        has_key = caller.key is not None or caller.next_key is not None
        entry = enter(caller.standing, connection.way, has_key=has_key)
        if entry.refusal:
            return _forbidden(connection, entry.refusal)
        if connection.way is Way.MUTUAL:
            if problem := self._wrong_certificate(connection, caller):
                return _forbidden(connection, problem)
        elif has_key and (refusal := await self._wrong_key(connection, caller, request)) is not None:
            return refusal
        connection.reached = entry.profile if entry.news else None
        offered = offered_subprotocols(request.headers.get_all("Sec-WebSocket-Protocol"))
        choice = choose_version(offered, VERSIONS)
        connection.caller = caller
        if choice is not None:
            connection.version, connection.spelled = choice.version, choice.spelled
        elif not offered and await self.ports.quirks.assumes_16(caller.station_id):
            connection.version = Version.OCPP16
        offers = "Sec-WebSocket-Extensions"
        if offers in request.headers and (choice is None or not choice.version.compresses):
            del request.headers[offers]  # what is not offered is not agreed to
        return None

    def _wrong_certificate(self, connection: StationConnection, caller: Caller) -> str:
        """What is wrong with the certificate that TLS has checked already; "" when it is the station's."""
        session: ssl.SSLObject = connection.transport.get_extra_info("ssl_object")
        shown = session.getpeercert(binary_form=True)
        if shown is None:
            return "it has shown no certificate"
        return why_not_of_station(read_der(shown), caller.names, self._settings.organization)

    async def _wrong_key(
        self, connection: StationConnection, caller: Caller, request: Request
    ) -> Response | None:
        """The refusal when the key is missing or wrong, or was too often; None when it is right."""
        identity = caller.station_id
        address = _address(connection)
        now_s = self.ports.clock.monotonic()
        if wait_s := self._guesses.blocked_s(address, identity, now_s):
            response = connection.respond(HTTPStatus.TOO_MANY_REQUESTS, "Too many wrong keys.\n")
            response.headers["Retry-After"] = str(math.ceil(wait_s))
            return response
        given = basic_credentials(_only(request.headers.get_all("Authorization")))
        user, password = given or (b"", b"")
        if user == identity.encode():
            for key in (caller.key, caller.next_key):
                if key is None or not await self._keys.is_right(key, password):
                    continue
                if key is caller.next_key:
                    await self.ports.stations.used_next_key(identity, key, self.ports.clock.now())
                self._guesses.right(address, identity)
                return None
        if given is not None:
            self._guesses.wrong(address, identity, now_s)
        response = connection.respond(HTTPStatus.UNAUTHORIZED, "The key is missing or wrong.\n")
        response.headers["WWW-Authenticate"] = 'Basic realm="Phaseyard"'
        return response

    async def _serve(self, connection: ServerConnection) -> None:
        assert isinstance(connection, StationConnection)
        caller, version = connection.caller, connection.version
        if caller is None or version is None:
            await connection.close(CLOSE_PROTOCOL, "no version of OCPP in common")
            return
        station_id = caller.station_id
        try:
            now = self.ports.clock.now()
            reached = connection.reached
            epoch = await self.ports.stations.connected(station_id, version.value, now, reached)
        except NotFound:
            await connection.close(CLOSE_POLICY, "there is no such station any more")
            return
        except Exception:
            log.exception("the connection of %s could not be written down", station_id)
            await connection.close(CLOSE_FAILED, "come again later")
            return
        link = Link(
            station_id,
            epoch,
            caller.registration,
            adapter_for(version),
            connection,
            self.ports,
            self._link_settings,
            _address(connection),
        )
        using = self.registry.add(link, self.ports.clock.monotonic())
        try:
            if using:
                await self._tell_duplicate(station_id, using)
            await link.pump()
        finally:
            self.registry.remove(link)
            await self._tell_lost(link)
            await link.drain()

    async def _tell_duplicate(self, station_id: str, addresses: tuple[str, ...]) -> None:
        log.warning("%s is used in turn from %s", station_id, ", ".join(addresses))
        try:
            await self.ports.stations.duplicate(station_id, addresses, self.ports.clock.now())
        except Exception:
            log.exception("the double use of %s could not be written down", station_id)

    async def _tell_lost(self, link: Link) -> None:
        try:
            now = self.ports.clock.now()
            await self.ports.stations.lost(link.station_id, link.epoch, now, link.end_reason)
        except Exception:
            log.exception("the end of %s could not be written down", link.station_id)


def _address(connection: StationConnection) -> str:
    return str((connection.remote_address or ("",))[0])


def _forbidden(connection: StationConnection, problem: str) -> Response:
    log.warning("a station was refused: %s", problem)
    return connection.respond(HTTPStatus.FORBIDDEN, f"Refused: {problem}.\n")


def _select(connection: ServerConnection, _offered: Sequence[Subprotocol]) -> Subprotocol | None:
    assert isinstance(connection, StationConnection)
    return None if connection.spelled is None else Subprotocol(connection.spelled)


def _only(headers: list[str]) -> str | None:
    """The one header; none when it is missing or there are several, which nobody honest sends."""
    return headers[0] if len(headers) == 1 else None
