"""Makes, lists, revokes and checks API keys."""

import hashlib
from datetime import timedelta

from csms.access.keys import repository
from csms.access.keys.repository import ApiKey
from csms.access.people.names import checked_name, checked_role
from csms.access.people.principal import Principal, PrincipalKind
from csms.clock import Clock
from csms.errors import Conflict, NotFound
from csms.ids import new_id, new_secret
from csms.store.database import Database

PREFIX = "py_"
USE_NOTED_EVERY = timedelta(minutes=1)


class KeysService:
    """API keys. `clock` is the machine's, even where the demo's runs faster."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create(self, name: str, role: str = "manager") -> str:
        """The secret of a new key, to be shown once. Raises InvalidInput, or Conflict: name taken."""
        secret = PREFIX + new_secret()
        new = ApiKey(new_id("key"), checked_name(name), checked_role(role), False, self._clock.now(), None)
        async with self._database.write() as connection:
            if not await repository.add_key(connection, self._database.dialect, new, _digest(secret)):
                raise Conflict(f"there is already a key named {new.name}; names are never used twice")
        return secret

    async def list(self) -> tuple[ApiKey, ...]:
        """All, by name, the revoked ones too."""
        async with self._database.read() as connection:
            return await repository.list_keys(connection)

    async def revoke(self, name: str) -> None:
        """The key opens nothing from now on. Raises NotFound."""
        async with self._database.write() as connection:
            if not await repository.revoke_key(connection, name):
                raise NotFound("key", name)

    async def check(self, secret: str) -> Principal | None:
        """Who holds `secret`; None when no key fits or it is revoked."""
        if not secret.startswith(PREFIX):
            return None
        async with self._database.read() as connection:
            key = await repository.find_key(connection, _digest(secret))
        if key is None:
            return None
        now = self._clock.now()
        if key.last_used_at is None or now - key.last_used_at >= USE_NOTED_EVERY:
            await self._database.writer.add(repository.used(key.id, now))
        return Principal(PrincipalKind.KEY, key.name, key.role)


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode(errors="surrogatepass")).digest()
