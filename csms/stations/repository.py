"""The SQL of stations, their EVSEs and variables. Works in the transaction of its caller."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import Row, bindparam, delete, func, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.stations.credentials import StoredKey
from csms.stations.model import EvseStatus, Registration, VariableValue
from csms.stations.record import Evse, Station, serial_key
from csms.store.dialects import upsert
from csms.store.group_commit import Change
from csms.store.outbox import Fact, put
from csms.store.paging import Page, fetch_page
from csms.store.tables.base import metadata
from csms.store.tables.sessions import session as sessions
from csms.store.tables.stations import evse as evses
from csms.store.tables.stations import station as stations
from csms.store.tables.stations import station_variable as variables
from csms.units import milli

_NEVER = datetime.fromisoformat("1970-01-01T00:00:00+00:00")
"""Kept as `status_at` of an EVSE that has told nothing yet."""

_SEEN = (
    update(stations).where(stations.c.id == bindparam("station")).values(last_seen_at=bindparam("seen_at"))
)


async def insert_station(connection: AsyncConnection, station: Station) -> None:
    await connection.execute(insert(stations).values(id=station.id, **_values(station)))


async def update_station(connection: AsyncConnection, station: Station) -> None:
    """Write all that is ours and not told by the station itself."""
    await connection.execute(update(stations).where(stations.c.id == station.id).values(_values(station)))


async def delete_station(connection: AsyncConnection, station_id: str) -> None:
    await connection.execute(delete(stations).where(stations.c.id == station_id))


async def find_station(connection: AsyncConnection, station_id: str, *, lock: bool = False) -> Station | None:
    query = select(stations).where(stations.c.id == station_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    return None if row is None else _station(row)


async def get_station(connection: AsyncConnection, station_id: str, *, lock: bool = False) -> Station:
    """As `find_station`, but NotFound when there is none."""
    station = await find_station(connection, station_id, lock=lock)
    if station is None:
        raise NotFound("station", station_id)
    return station


async def list_stations(
    connection: AsyncConnection, site_id: str | None, *, after: str | None, limit: int
) -> Page[Station]:
    """Stations of the site, or all when `site_id` is None."""
    query = select(stations)
    if site_id is not None:
        query = query.where(stations.c.site_id == site_id)
    return await fetch_page(connection, query, stations.c.id, _station, after=after, limit=limit)


async def stations_of(connection: AsyncConnection, site_id: str) -> tuple[Station, ...]:
    query = select(stations).where(stations.c.site_id == site_id).order_by(stations.c.id)
    return tuple(_station(row) for row in await connection.execute(query))


async def connected_stations(connection: AsyncConnection) -> tuple[Station, ...]:
    query = select(stations).where(stations.c.connected).order_by(stations.c.id)
    return tuple(_station(row) for row in await connection.execute(query.with_for_update()))


async def count_sessions(connection: AsyncConnection, station_id: str) -> int:
    query = select(func.count()).select_from(sessions).where(sessions.c.station_id == station_id)
    return int((await connection.execute(query)).scalar_one())


async def count_open_sessions(connection: AsyncConnection, station_id: str) -> int:
    """How many cars are, as far as we know, plugged in there."""
    query = (
        select(func.count())
        .select_from(sessions)
        .where(sessions.c.station_id == station_id, sessions.c.state.not_in(("closed", "ended")))
    )
    return int((await connection.execute(query)).scalar_one())


async def awaiting(connection: AsyncConnection, serial: str) -> tuple[Station, ...]:
    """The places where a charger with that serial number is expected; none for an empty one."""
    key = serial_key(serial)
    if not key:
        return ()
    query = select(stations).where(stations.c.expected_serial != "").order_by(stations.c.id)
    found = (_station(row) for row in await connection.execute(query))
    return tuple(station for station in found if serial_key(station.expected_serial) == key)


async def get_key(connection: AsyncConnection, station_id: str) -> StoredKey | None:
    """The key, None when the station has none (or is not there)."""
    query = select(stations.c.key_salt, stations.c.key_hash).where(stations.c.id == station_id)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None or row.key_hash is None else StoredKey(row.key_salt, row.key_hash)


async def set_key(connection: AsyncConnection, station_id: str, key: StoredKey | None) -> None:
    values = {"key_salt": key and key.salt, "key_hash": key and key.hash}
    await connection.execute(update(stations).where(stations.c.id == station_id).values(values))


async def set_presence(
    connection: AsyncConnection, station_id: str, *, at: datetime, connected: bool, **values: Any
) -> None:
    """`values` may be `epoch`, `protocol` and `last_seen_at`."""
    values |= {"connected": connected, "presence_at": at}
    await connection.execute(update(stations).where(stations.c.id == station_id).values(values))


async def set_boot(connection: AsyncConnection, station_id: str, **values: Any) -> None:
    """`values`: vendor, model, serial, firmware, booted_at, last_seen_at."""
    await connection.execute(update(stations).where(stations.c.id == station_id).values(values))


async def set_wiring_check(connection: AsyncConnection, station_id: str, found: dict[str, Any]) -> None:
    await connection.execute(update(stations).where(stations.c.id == station_id).values(wiring_check=found))


async def wiring_check(connection: AsyncConnection, station_id: str) -> dict[str, Any] | None:
    query = select(stations.c.wiring_check).where(stations.c.id == station_id)
    found: dict[str, Any] | None = (await connection.execute(query)).scalar_one_or_none()
    return found


def seen(station_id: str, at: datetime) -> Change:
    """A sign of life, for the group commit."""
    return Change(_SEEN, {"station": station_id, "seen_at": at})


async def tell(connection: AsyncConnection, topic: str, station: Station, at: datetime, **body: Any) -> None:
    """Put a fact about `station` into the outbox; its name is in the body."""
    body = {"station": station.label, **body}
    await put(connection, Fact(topic=topic, at=at, site_id=station.site_id, subject=station.id, body=body))


async def count_waiting(connection: AsyncConnection) -> int:
    """How many stations wait for a place."""
    query = (
        select(func.count())
        .select_from(stations)
        .where(stations.c.registration == Registration.PENDING.value, stations.c.site_id.is_(None))
    )
    return int((await connection.execute(query)).scalar_one())


async def count_planned(connection: AsyncConnection) -> int:
    """How many places wait for a charger with a serial number that has not come yet."""
    query = (
        select(func.count())
        .select_from(stations)
        .where(stations.c.expected_serial != "", stations.c.booted_at.is_(None))
    )
    return int((await connection.execute(query)).scalar_one())


async def hand_over(connection: AsyncConnection, station_id: str, to_id: str) -> None:
    """What refers to one station refers to the other from now on; what is part of it stays."""
    for table in metadata.tables.values():
        for column in table.columns:
            if column.references(stations.c.id) and not column.primary_key:
                await connection.execute(
                    update(table).where(column == station_id).values({column.name: to_id})
                )


async def list_evses(connection: AsyncConnection, station_ids: Iterable[str]) -> tuple[Evse, ...]:
    """All EVSEs of the stations, their number 0 among them."""
    query = (
        select(evses)
        .where(evses.c.station_id.in_(list(station_ids)))
        .order_by(evses.c.station_id, evses.c.number)
    )
    return tuple(_evse(row) for row in await connection.execute(query))


async def find_evse(connection: AsyncConnection, station_id: str, number: int) -> Evse | None:
    query = select(evses).where(evses.c.station_id == station_id, evses.c.number == number)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else _evse(row)


async def put_evse(connection: AsyncConnection, dialect: str, evse: Evse) -> None:
    values = {
        "station_id": evse.station_id,
        "number": evse.number,
        "connector": evse.connector,
        "confirmed": evse.confirmed,
        "status": evse.status.value,
        "error": evse.error,
        "info": evse.info,
        "status_at": evse.status_at or _NEVER,
    }
    statement = upsert(dialect, evses).values(values)
    keys = ("station_id", "number")
    changed = {name: statement.excluded[name] for name in values if name not in keys}
    await connection.execute(statement.on_conflict_do_update(index_elements=keys, set_=changed))


async def confirm_evses(connection: AsyncConnection, dialect: str, station_id: str, count: int) -> None:
    """The station has EVSEs 1 to `count`; those above are unconfirmed from now on."""
    for number in range(1, count + 1):
        fresh = Evse(station_id=station_id, number=number)
        if await find_evse(connection, station_id, number) is None:
            await put_evse(connection, dialect, fresh)
    mine = evses.c.station_id == station_id
    await connection.execute(
        update(evses).where(mine, evses.c.number.between(1, count)).values(confirmed=True)
    )
    await connection.execute(update(evses).where(mine, evses.c.number > count).values(confirmed=False))


async def put_variables(
    connection: AsyncConnection,
    dialect: str,
    station_id: str,
    values: Iterable[VariableValue],
    seen_at: datetime,
) -> None:
    rows = {
        value.path: {
            "station_id": station_id,
            "path": value.path,
            "value": value.value,
            "readonly": value.readonly,
            "seen_at": seen_at,
        }
        for value in values
    }
    if not rows:
        return
    statement = upsert(dialect, variables)
    changed = {name: statement.excluded[name] for name in ("value", "readonly", "seen_at")}
    statement = statement.on_conflict_do_update(index_elements=["station_id", "path"], set_=changed)
    await connection.execute(statement, list(rows.values()))


async def list_variables(
    connection: AsyncConnection, station_id: str, *, after: str | None, limit: int
) -> Page[VariableValue]:
    query = select(variables).where(variables.c.station_id == station_id)
    return await fetch_page(connection, query, variables.c.path, _variable, after=after, limit=limit)


def _station(row: Row[Any]) -> Station:
    return Station(
        id=row.id,
        registration=Registration(row.registration),
        created_at=row.created_at,
        name=row.name,
        site_id=row.site_id,
        circuit_id=row.circuit_id,
        wiring=tuple(row.wiring.split(",")),
        max_current_a=row.max_current_ma / 1000,
        step_a=row.step_ma / 1000,
        fallback_a=row.fallback_ma / 1000,
        can_choose_line=row.can_choose_line,
        keeps_profiles=row.keeps_profiles,
        expected_serial=row.expected_serial,
        has_key=row.key_hash is not None,
        vendor=row.vendor,
        model=row.model,
        serial=row.serial,
        firmware=row.firmware,
        protocol=row.protocol,
        booted_at=row.booted_at,
        connected=row.connected,
        epoch=row.epoch,
        presence_at=row.presence_at,
        last_seen_at=row.last_seen_at,
    )


def _values(station: Station) -> dict[str, Any]:
    return {
        "registration": station.registration.value,
        "created_at": station.created_at,
        "name": station.name,
        "site_id": station.site_id,
        "circuit_id": station.circuit_id,
        "wiring": ",".join(station.wiring),
        "max_current_ma": milli(station.max_current_a),
        "step_ma": milli(station.step_a),
        "fallback_ma": milli(station.fallback_a),
        "can_choose_line": station.can_choose_line,
        "keeps_profiles": station.keeps_profiles,
        "expected_serial": station.expected_serial,
    }


def _evse(row: Row[Any]) -> Evse:
    return Evse(
        station_id=row.station_id,
        number=row.number,
        connector=row.connector,
        confirmed=row.confirmed,
        status=EvseStatus(row.status),
        error=row.error,
        info=row.info,
        status_at=None if row.status_at == _NEVER else row.status_at,
    )


def _variable(row: Row[Any]) -> VariableValue:
    return VariableValue(row.path, row.value, row.readonly)
