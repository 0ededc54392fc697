"""The SQL of security profiles and of keys that wait to be used for the first time."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.stations.credentials import StoredKey
from csms.stations.security.profile import NEW, Profile, Standing
from csms.store.dialects import upsert
from csms.store.tables.security import station_security as security
from csms.store.tables.stations import station as stations


@dataclass(frozen=True, slots=True)
class SecurityState:
    """`step` and `detail` tell of the upgrade or of a change of key; `next_key`: sent, not yet used."""

    standing: Standing = NEW
    step: str = ""
    detail: str = ""
    changed_at: datetime | None = None
    next_key: StoredKey | None = None


async def state_of(connection: AsyncConnection, station_id: str) -> SecurityState:
    """What is kept of the station; nothing for one that was never looked at."""
    row = (
        await connection.execute(select(security).where(security.c.station_id == station_id))
    ).one_or_none()
    if row is None:
        return SecurityState()
    return SecurityState(
        Standing(_profile(row.in_use), _profile(row.wanted)),
        row.step,
        row.detail,
        row.changed_at,
        None if row.next_key_hash is None else StoredKey(row.next_key_salt, row.next_key_hash),
    )


async def keep(connection: AsyncConnection, dialect: str, station_id: str, **values: Any) -> None:
    """Write columns of the station's row; those that are not named stay."""
    statement = upsert(dialect, security).values(station_id=station_id, **values)
    await connection.execute(statement.on_conflict_do_update(index_elements=["station_id"], set_=values))


async def use_next_key(connection: AsyncConnection, station_id: str, key: StoredKey) -> bool:
    """The station has come by the key that waited: it is its only one from now on. False: not waiting."""
    gone = (
        update(security)
        .where(security.c.station_id == station_id, security.c.next_key_hash == key.hash)
        .values(next_key_salt=None, next_key_hash=None)
    )
    if (await connection.execute(gone)).rowcount != 1:
        return False
    kept = {"key_salt": key.salt, "key_hash": key.hash}
    await connection.execute(update(stations).where(stations.c.id == station_id).values(kept))
    return True


def _profile(number: int | None) -> Profile | None:
    return None if number is None else Profile(number)
