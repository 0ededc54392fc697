"""What the gateway needs of the rest. The services of `csms.stations` and the dispatcher fit."""

from datetime import datetime
from typing import Any, Protocol

from csms.stations.commands import Command, CommandResult
from csms.stations.credentials import StoredKey
from csms.stations.model import Registration
from csms.stations.quirks.quirk import Quirk
from csms.stations.security.profile import Profile, Standing


class Caller(Protocol):
    """A station at the door. `key` None: it needs none. `next_key`: sent to it, not used yet."""

    @property
    def station_id(self) -> str: ...

    @property
    def registration(self) -> Registration: ...

    @property
    def key(self) -> StoredKey | None: ...

    @property
    def next_key(self) -> StoredKey | None: ...

    @property
    def standing(self) -> Standing: ...

    @property
    def names(self) -> tuple[str, ...]:
        """What may stand in its certificate."""
        ...


class Stations(Protocol):
    """Who may connect, and who is connected (`csms.stations.sockets`)."""

    async def identify(self, identity: str) -> Caller | None: ...

    async def connected(
        self, station_id: str, protocol: str, now: datetime, profile: Profile | None = None
    ) -> int:
        """The epoch of the new socket, higher than any before. Raises NotFound.

        `profile`: a security profile that it has reached by this for the first time.
        """
        ...

    async def used_next_key(self, station_id: str, key: StoredKey, now: datetime) -> None:
        """It came by the key that was sent to it."""
        ...

    async def lost(self, station_id: str, epoch: int, now: datetime, reason: str = "") -> bool:
        """The socket of `epoch` has ended; False when a newer one stands."""
        ...

    async def seen(self, station_id: str, now: datetime) -> None: ...

    async def questions_after_connect(self, station_id: str) -> tuple[Command, ...]: ...

    async def duplicate(self, station_id: str, addresses: tuple[str, ...], now: datetime) -> None:
        """Sockets from these addresses take its identity from each other."""
        ...


class Quirks(Protocol):
    """What models get wrong (`csms.stations.quirks`)."""

    async def of(self, station_id: str) -> Quirk | None:
        """What is to be put right in what the station says."""
        ...

    def forget(self, station_id: str) -> None:
        """It has booted: it may be another model, or another firmware."""
        ...

    async def assumes_16(self, station_id: str) -> bool:
        """Whether it speaks OCPP 1.6 when it names no version."""
        ...


class _NoQuirks:
    async def of(self, station_id: str) -> Quirk | None:
        return None

    def forget(self, station_id: str) -> None:
        return None

    async def assumes_16(self, station_id: str) -> bool:
        return False


NO_QUIRKS = _NoQuirks()
"""Everything is as the standard says."""


class Owners(Protocol):
    """Those who answer what stations say, when it is committed (`csms.dispatch`)."""

    async def ask(self, station_id: str, question: object, now: datetime) -> Any: ...


class Journal(Protocol):
    """Keeps what was asked of stations and what came of it (`csms.stations.journal`)."""

    async def asked(self, station_id: str, command: Command, *, asked_by: str = "") -> str: ...

    async def answered(self, command_id: str, result: CommandResult) -> object: ...

    async def timed_out(self, command_id: str, detail: str = "") -> object: ...

    async def offline(self, command_id: str, detail: str = "") -> object: ...


class Quarantine(Protocol):
    """Keeps frames that could not be read (`csms.stations.quarantine`)."""

    async def keep(self, station_id: str, frame: bytes, reason: str, at: datetime) -> None: ...


class Socket(Protocol):
    """One open WebSocket. `recv` and `send` raise ConnectionClosed when it has ended."""

    async def recv(self) -> str | bytes: ...

    async def send(self, message: str) -> None: ...

    async def close(self, code: int = 1000, reason: str = "") -> None: ...
