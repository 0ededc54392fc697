"""Keys of meters, as the rest of the program holds them."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.metering.signed import repository as records
from csms.metering.signed.keys import repository
from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.public_key import read_key
from csms.store.database import Database
from csms.store.paging import Page

LONGEST_SERIAL = 64


class MeterKeysService:
    """Whatever changes a key has the records of its meter judged anew; `changed` is called then."""

    def __init__(self, database: Database, clock: Clock, changed: Callable[[], None]) -> None:
        self._database = database
        self._clock = clock
        self._changed = changed

    async def get(self, key_id: str) -> MeterKey:
        """Raises NotFound."""
        async with self._database.read() as connection:
            return await repository.get_key(connection, key_id)

    async def list(
        self,
        serial: str | None = None,
        state: KeyState | None = None,
        *,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[MeterKey]:
        async with self._database.read() as connection:
            return await repository.list_keys(connection, serial, state, after=after, limit=limit)

    async def add(
        self,
        *,
        serial: str,
        public_key: str,
        by: str,
        valid_from: datetime | None = None,
        valid_to: datetime | None = None,
        note: str = "",
    ) -> MeterKey:
        """A key that somebody vouches for: confirmed. One that was found with data is confirmed by it.

        Raises InvalidInput (`serial`, `public_key`, `valid_to`), and Conflict when it is there already.
        """
        serial = serial.strip()
        if not serial or len(serial) > LONGEST_SERIAL or not serial.isprintable():
            raise InvalidInput("serial", f"give the meter's serial number, 1 to {LONGEST_SERIAL} characters")
        key, now = read_key(public_key), self._clock.now()
        made = MeterKey(
            id=new_id("key"),
            serial=serial,
            key=key,
            state=KeyState.CONFIRMED,
            valid_from=valid_from,
            valid_to=valid_to,
            note=note,
            source=by,
            created_at=now,
            confirmed_at=now,
        )
        _check(made)
        async with self._database.write() as connection:
            found = await repository.find(connection, serial, key.fingerprint)
            if found is None:
                await repository.insert_key(connection, made)
            elif found.state is KeyState.CONFIRMED:
                raise Conflict(f"meter {serial} has this key already: {found.id}")
            else:
                made = replace(made, id=found.id, created_at=found.created_at)
                await repository.update_key(connection, made)
            await records.look_again(connection, serial)
        self._changed()
        return made

    async def confirm(self, key_id: str, by: str) -> MeterKey:
        """Somebody has compared it with the meter's own. Raises NotFound."""
        now = self._clock.now()
        return await self._change(key_id, state=KeyState.CONFIRMED, confirmed_at=now, source=by)

    async def revoke(self, key_id: str) -> MeterKey:
        """It is nobody's key any more, and never was: what it signed counts as unknown. Raises NotFound."""
        return await self._change(key_id, state=KeyState.REVOKED)

    async def update(self, key_id: str, **given: object) -> MeterKey:
        """Change `valid_from`, `valid_to`, `note`. Raises NotFound, InvalidInput (`valid_to`)."""
        return await self._change(key_id, **given)

    async def _change(self, key_id: str, **given: object) -> MeterKey:
        async with self._database.write() as connection:
            changed = replace(await repository.get_key(connection, key_id), **given)  # type: ignore[arg-type]
            _check(changed)
            await repository.update_key(connection, changed)
            await records.look_again(connection, changed.serial)
        self._changed()
        return changed


def _check(key: MeterKey) -> None:
    if key.valid_from is not None and key.valid_to is not None and key.valid_to <= key.valid_from:
        raise InvalidInput("valid_to", "must be after valid_from")
