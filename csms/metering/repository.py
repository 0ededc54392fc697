"""Rows of readings. The bulk of all writes: see `values` for what a row costs."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.metering.building import LineReading
from csms.metering.series import Point, Source
from csms.metering.stored import StoredReading
from csms.stations.model import PerLine, Reading, ReadingContext
from csms.stations.signed import SignedValue
from csms.store.group_commit import Change
from csms.store.paging import Page, fetch_page
from csms.store.tables.metering import circuit_reading
from csms.store.tables.metering import reading as readings

INSERT = insert(readings)
INSERT_OF_CIRCUIT = insert(circuit_reading)
_LARGEST = 2**31 - 1
_LARGEST_WH = 10**15
_NOT_CONTENT = {"id", "station_id", "evse", "session_id"}
_CONTEXTS = {context: context.value for context in ReadingContext}


def change(station_id: str, evse: int | None, session_id: int | None, reading: Reading) -> Change:
    """One row for the group commit."""
    return Change(INSERT, values(station_id, evse, session_id, reading))


def values(station_id: str, evse: int | None, session_id: int | None, reading: Reading) -> dict[str, Any]:
    """The columns of a row: integers of a small unit. What does not fit an integer is left out."""
    current, voltage, power = reading.current_a, reading.voltage_v, reading.line_power_w
    register_wh = reading.register_wh
    if register_wh is not None and not -_LARGEST_WH < register_wh < _LARGEST_WH:
        register_wh = None
    # The first record only: all of them are rows of their own (csms.metering.signed).
    signed = reading.signed[0].received.replace("\x00", "") if reading.signed else None
    return {
        "station_id": station_id,
        "evse": evse,
        "session_id": session_id,
        "at": reading.at,
        "context": _CONTEXTS[reading.context],
        "register_wh": register_wh,
        "power_w": _whole(reading.power_w, 1),
        "current_l1_ma": _whole(current[0], 1000),
        "current_l2_ma": _whole(current[1], 1000),
        "current_l3_ma": _whole(current[2], 1000),
        "voltage_l1_mv": _whole(voltage[0], 1000),
        "voltage_l2_mv": _whole(voltage[1], 1000),
        "voltage_l3_mv": _whole(voltage[2], 1000),
        "power_l1_w": _whole(power[0], 1),
        "power_l2_w": _whole(power[1], 1),
        "power_l3_w": _whole(power[2], 1),
        "offered_ma": _whole(reading.offered_a, 1000),
        "temperature_dc": _whole(reading.temperature_c, 10),
        "soc_permille": _whole(reading.soc_percent, 10),
        "signed": signed,
        "others": _texts(reading.others) if reading.others else None,
    }


async def add(connection: AsyncConnection, rows: Sequence[dict[str, Any]]) -> None:
    """Write rows made by `values`."""
    if rows:
        await connection.execute(INSERT, list(rows))


async def not_yet_stored(
    connection: AsyncConnection, session_id: int, rows: Iterable[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Those of `rows` that the session does not have already, each once.

    A stop often repeats what was told before, and without the EVSE: that one is not compared.
    """
    fresh: list[dict[str, Any]] = []
    seen: list[dict[str, Any]] = []
    for row in rows:
        if (content := _content(row)) not in seen:
            seen.append(content)
            fresh.append(row)
    if not fresh:
        return fresh
    times = [row["at"] for row in fresh]
    query = select(readings).where(
        readings.c.session_id == session_id, readings.c.at >= min(times), readings.c.at <= max(times)
    )
    stored = [_content(dict(row._mapping)) for row in await connection.execute(query)]
    return [row for row in fresh if _content(row) not in stored]


async def points(connection: AsyncConnection, session_id: int) -> tuple[Point, ...]:
    """All register values of a session."""
    query = select(readings.c.at, readings.c.register_wh, readings.c.context).where(
        readings.c.session_id == session_id, readings.c.register_wh.is_not(None)
    )
    return tuple(
        Point(row.at, row.register_wh, source_of(ReadingContext(row.context)))
        for row in await connection.execute(query)
    )


def source_of(context: ReadingContext) -> Source:
    """What a register value of a reading is good for."""
    return Source.END_SAMPLE if context is ReadingContext.END else Source.SAMPLE


async def newest(connection: AsyncConnection, session_ids: Sequence[int]) -> dict[int, datetime]:
    """The time of the latest reading of each session that has one."""
    if not session_ids:
        return {}
    latest = func.max(readings.c.at, type_=readings.c.at.type)
    query = (
        select(readings.c.session_id, latest.label("latest"))
        .where(readings.c.session_id.in_(session_ids))
        .group_by(readings.c.session_id)
    )
    return {row.session_id: row.latest for row in await connection.execute(query)}


async def samples(
    connection: AsyncConnection, session_id: int, *, after: str | None, limit: int
) -> Page[StoredReading]:
    query = select(readings).where(readings.c.session_id == session_id)
    return await fetch_page(connection, query, readings.c.id, _stored, after=after, limit=limit)


def circuit_change(circuit_id: str, counts: str, told: LineReading) -> Change:
    """One row of a building meter for the group commit."""
    row: dict[str, Any] = {"circuit_id": circuit_id, "at": told.at, "counts": counts}
    for i, value in enumerate(told.current_a, start=1):
        row[f"current_l{i}_ma"] = _whole(value, 1000)
    return Change(INSERT_OF_CIRCUIT, row)


async def circuit_readings(
    connection: AsyncConnection, circuit_id: str, counts: str, since: datetime, until: datetime
) -> tuple[LineReading, ...]:
    """The kept readings of a circuit's meter from `since` to before `until`, in order of time."""
    query = (
        select(circuit_reading)
        .where(
            circuit_reading.c.circuit_id == circuit_id,
            circuit_reading.c.counts == counts,
            circuit_reading.c.at >= since,
            circuit_reading.c.at < until,
        )
        .order_by(circuit_reading.c.at, circuit_reading.c.id)
    )
    return tuple(
        LineReading(row.at, _lines(row.current_l1_ma, row.current_l2_ma, row.current_l3_ma, 1000))
        for row in await connection.execute(query)
    )


def _content(row: dict[str, Any]) -> dict[str, Any]:
    """What makes a reading the same as another one of its session."""
    return {name: value for name, value in row.items() if name not in _NOT_CONTENT}


def _whole(value: float | None, scale: int) -> int | None:
    if value is None:
        return None
    try:
        number = round(value * scale)
    except (ValueError, OverflowError):  # not a number, infinite
        return None
    return number if -_LARGEST <= number <= _LARGEST else None


def _texts(others: tuple[tuple[str, str, str, str], ...]) -> list[list[str]]:
    return [[text.replace("\x00", "") for text in other] for other in others]


def _stored(row: Row[Any]) -> StoredReading:
    reading = Reading(
        at=row.at,
        context=ReadingContext(row.context),
        register_wh=row.register_wh,
        power_w=None if row.power_w is None else float(row.power_w),
        current_a=_lines(row.current_l1_ma, row.current_l2_ma, row.current_l3_ma, 1000),
        voltage_v=_lines(row.voltage_l1_mv, row.voltage_l2_mv, row.voltage_l3_mv, 1000),
        line_power_w=_lines(row.power_l1_w, row.power_l2_w, row.power_l3_w, 1),
        offered_a=None if row.offered_ma is None else row.offered_ma / 1000,
        temperature_c=None if row.temperature_dc is None else row.temperature_dc / 10,
        soc_percent=None if row.soc_permille is None else row.soc_permille / 10,
        signed=() if row.signed is None else (SignedValue(row.signed, row.signed),),
        others=tuple((a, b, c, d) for a, b, c, d in row.others or ()),
    )
    return StoredReading(row.id, row.station_id, row.evse, row.session_id, reading)


def _lines(l1: int | None, l2: int | None, l3: int | None, scale: int) -> PerLine:
    return (
        None if l1 is None else l1 / scale,
        None if l2 is None else l2 / scale,
        None if l3 is None else l3 / scale,
    )
