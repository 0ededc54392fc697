"""The SQL of alarms, of who is told, and of what was sent."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, and_, delete, func, insert, or_, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.alarms.alarm import OPEN, STANDING, Alarm, AlarmState, Severity
from csms.alarms.deliveries import Delivery, DeliveryState, Occasion
from csms.alarms.routes import ChannelKind, Route
from csms.errors import NotFound
from csms.store.paging import Page, fetch_page
from csms.store.tables.alarms import alarm as alarms
from csms.store.tables.alarms import alarm_delivery as deliveries
from csms.store.tables.alarms import alarm_route as routes
from csms.store.tables.sites import site as sites
from csms.store.tables.stations import station as stations

_OPEN = tuple(sorted(OPEN))
_STANDING = tuple(sorted(STANDING))


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmFilter:
    """What an alarm has to be; None: anything. `standing`: raised and not over."""

    site_id: str | None = None
    station_id: str | None = None
    kind: str | None = None
    lowest: Severity | None = None
    standing: bool | None = None


async def site_of_station(connection: AsyncConnection, station_id: str) -> str | None:
    query = select(stations.c.site_id).where(stations.c.id == station_id)
    found: str | None = (await connection.execute(query)).scalar_one_or_none()
    return found


async def place_of(
    connection: AsyncConnection, site_id: str | None, station_id: str | None
) -> tuple[str, str, str]:
    """(the site's name, its zone, the charger's name), "" where there is none."""
    site = (
        await connection.execute(select(sites.c.name, sites.c.time_zone).where(sites.c.id == site_id))
    ).one_or_none()
    name = select(stations.c.name).where(stations.c.id == station_id)
    label = (await connection.execute(name)).scalar_one_or_none() or station_id or ""
    return ("", "UTC", label) if site is None else (site.name, site.time_zone, label)


async def latest(connection: AsyncConnection, kind: str, thing: str) -> Alarm | None:
    """The newest alarm of that key, open or over; nobody else changes it until the transaction ends."""
    query = select(alarms).where(alarms.c.kind == kind, alarms.c.thing == thing)
    query = query.order_by(alarms.c.id.desc()).limit(1).with_for_update()
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else _alarm(row)


async def get_alarm(connection: AsyncConnection, alarm_id: int, *, lock: bool = False) -> Alarm:
    """Raises NotFound."""
    query = select(alarms).where(alarms.c.id == alarm_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None or row.state == AlarmState.PENDING.value:
        raise NotFound("alarm", alarm_id)
    return _alarm(row)


async def open_alarms(
    connection: AsyncConnection,
    kinds: Collection[str],
    *,
    thing: str | None = None,
    station_id: str | None = None,
    lock: bool = False,
) -> tuple[Alarm, ...]:
    """Those of `kinds` that are not over: of a thing, of a whole station, or all."""
    query = select(alarms).where(alarms.c.state.in_(_OPEN), alarms.c.kind.in_(sorted(kinds)))
    if thing is not None:
        query = query.where(alarms.c.thing == thing)
    if station_id is not None:
        query = query.where(alarms.c.station_id == station_id)
    query = query.order_by(alarms.c.id)
    rows = await connection.execute(query.with_for_update() if lock else query)
    return tuple(_alarm(row) for row in rows)


async def due_alarms(connection: AsyncConnection, now: datetime) -> tuple[Alarm, ...]:
    """Pending ones that have held for long enough."""
    query = select(alarms).where(alarms.c.state == AlarmState.PENDING.value, alarms.c.due_at <= now)
    rows = await connection.execute(query.order_by(alarms.c.id).with_for_update())
    return tuple(_alarm(row) for row in rows)


async def standing(connection: AsyncConnection) -> tuple[Alarm, ...]:
    query = select(alarms).where(alarms.c.state.in_(_STANDING)).order_by(alarms.c.id)
    return tuple(_alarm(row) for row in await connection.execute(query))


async def list_alarms(
    connection: AsyncConnection, wanted: AlarmFilter, *, after: str | None, limit: int
) -> Page[Alarm]:
    """The newest first; pending ones are no alarms yet."""
    query = select(alarms).where(alarms.c.state != AlarmState.PENDING.value)
    if wanted.site_id is not None:
        query = query.where(alarms.c.site_id == wanted.site_id)
    if wanted.station_id is not None:
        query = query.where(alarms.c.station_id == wanted.station_id)
    if wanted.kind is not None:
        query = query.where(alarms.c.kind == wanted.kind)
    if wanted.standing is not None:
        held = alarms.c.state.in_(_STANDING)
        query = query.where(held if wanted.standing else ~held)
    if wanted.lowest is not None:
        heavy = [each.value for each in Severity if each.rank >= wanted.lowest.rank]
        query = query.where(alarms.c.severity.in_(heavy))
    return await fetch_page(connection, query, alarms.c.id, _alarm, after=after, limit=limit, descending=True)


async def keep(connection: AsyncConnection, alarm: Alarm) -> int:
    """Write it, new or changed; its number. One that has passed is removed."""
    if alarm.state is AlarmState.PASSED:
        await connection.execute(delete(alarms).where(alarms.c.id == alarm.id))
        return alarm.id
    if alarm.id:
        await connection.execute(update(alarms).where(alarms.c.id == alarm.id).values(_values(alarm)))
        return alarm.id
    made = await connection.execute(insert(alarms).values(_values(alarm)).returning(alarms.c.id))
    return int(made.scalar_one())


async def lost_share(connection: AsyncConnection, site_id: str) -> tuple[int, int]:
    """(chargers of the site with an open `charger_lost`, all its chargers)."""
    gone = select(func.count(alarms.c.station_id.distinct())).where(
        alarms.c.site_id == site_id, alarms.c.kind == "charger_lost", alarms.c.state.in_(_STANDING)
    )
    all_of_them = select(func.count()).where(stations.c.site_id == site_id)
    return (
        int((await connection.execute(gone)).scalar_one()),
        int((await connection.execute(all_of_them)).scalar_one()),
    )


async def insert_route(connection: AsyncConnection, route: Route) -> None:
    await connection.execute(insert(routes).values(_route_values(route)))


async def update_route(connection: AsyncConnection, route: Route) -> None:
    await connection.execute(update(routes).where(routes.c.id == route.id).values(_route_values(route)))


async def delete_route(connection: AsyncConnection, route_id: str) -> None:
    await connection.execute(delete(routes).where(routes.c.id == route_id))


async def get_route(connection: AsyncConnection, route_id: str) -> Route:
    """Raises NotFound."""
    row = (await connection.execute(select(routes).where(routes.c.id == route_id))).one_or_none()
    if row is None:
        raise NotFound("alarm route", route_id)
    return _route(row)


async def list_routes(
    connection: AsyncConnection, site_id: str | None, *, after: str | None, limit: int
) -> Page[Route]:
    query = select(routes)
    if site_id is not None:
        query = query.where(or_(routes.c.site_id == site_id, routes.c.site_id.is_(None)))
    return await fetch_page(connection, query, routes.c.id, _route, after=after, limit=limit)


async def active_routes(connection: AsyncConnection) -> tuple[Route, ...]:
    query = select(routes).where(routes.c.active).order_by(routes.c.id)
    return tuple(_route(row) for row in await connection.execute(query))


async def told(
    connection: AsyncConnection, alarm_ids: Collection[int]
) -> dict[int, set[tuple[str | None, Occasion]]]:
    """Routes and occasions that a message was put down for, by alarm."""
    query = select(deliveries.c.alarm_id, deliveries.c.route_id, deliveries.c.occasion)
    rows = await connection.execute(query.where(deliveries.c.alarm_id.in_(sorted(alarm_ids))))
    found: dict[int, set[tuple[str | None, Occasion]]] = {each: set() for each in alarm_ids}
    for row in rows:
        found[row.alarm_id].add((row.route_id, Occasion(row.occasion)))
    return found


async def put_deliveries(connection: AsyncConnection, new: Iterable[Delivery]) -> None:
    rows = [_delivery_values(each) for each in new]
    if rows:
        await connection.execute(insert(deliveries), rows)


async def due_deliveries(
    connection: AsyncConnection, now: datetime, limit: int
) -> tuple[tuple[Delivery, Alarm, str], ...]:
    """Messages to be sent now, the longest due first: with their alarm and the route's secret."""
    query = (
        select(deliveries, routes.c.secret)
        .join(routes, routes.c.id == deliveries.c.route_id, isouter=True)
        .where(and_(deliveries.c.state == DeliveryState.WAITING.value, deliveries.c.next_at <= now))
        .order_by(deliveries.c.next_at, deliveries.c.id)
        .limit(limit)
    )
    rows = (await connection.execute(query)).all()
    wanted = {row.alarm_id for row in rows}
    found = await connection.execute(select(alarms).where(alarms.c.id.in_(sorted(wanted))))
    by_id = {row.id: _alarm(row) for row in found}
    return tuple((_delivery(row), by_id[row.alarm_id], row.secret or "") for row in rows)


async def keep_delivery(connection: AsyncConnection, delivery: Delivery) -> None:
    await connection.execute(
        update(deliveries).where(deliveries.c.id == delivery.id).values(_delivery_values(delivery))
    )


async def list_deliveries(
    connection: AsyncConnection, alarm_id: int | None, *, after: str | None, limit: int
) -> Page[Delivery]:
    """The newest first, of one alarm or of all."""
    query = select(deliveries)
    if alarm_id is not None:
        query = query.where(deliveries.c.alarm_id == alarm_id)
    return await fetch_page(
        connection, query, deliveries.c.id, _delivery, after=after, limit=limit, descending=True
    )


def _values(alarm: Alarm) -> dict[str, Any]:
    return {
        "kind": alarm.kind,
        "thing": alarm.thing,
        "open_key": alarm.key if alarm.state in OPEN else None,
        "severity": alarm.severity.value,
        "state": alarm.state.value,
        "site_id": alarm.site_id,
        "station_id": alarm.station_id,
        "evse": alarm.evse,
        "circuit_id": alarm.circuit_id,
        "detail": dict(alarm.detail),
        "began_at": alarm.began_at,
        "due_at": alarm.due_at,
        "raised_at": alarm.raised_at,
        "last_at": alarm.last_at,
        "times": alarm.times,
        "acknowledged_at": alarm.acknowledged_at,
        "acknowledged_by": alarm.acknowledged_by,
        "note": alarm.note,
        "cleared_at": alarm.cleared_at,
        "cleared_by": alarm.cleared_by,
        "fact": alarm.fact,
    }


def _alarm(row: Row[Any]) -> Alarm:
    names = [name for name in Alarm.__dataclass_fields__ if name not in ("severity", "state")]
    return Alarm(
        **{name: getattr(row, name) for name in names},
        severity=Severity(row.severity),
        state=AlarmState(row.state),
    )


def _route_values(route: Route) -> dict[str, Any]:
    return {
        "id": route.id,
        "site_id": route.site_id,
        "channel": route.channel.value,
        "address": route.address,
        "lowest": route.lowest.value,
        "after_s": route.after_s,
        "active": route.active,
        "secret": route.secret,
        "created_at": route.created_at,
    }


def _route(row: Row[Any]) -> Route:
    return Route(
        id=row.id,
        site_id=row.site_id,
        channel=ChannelKind(row.channel),
        address=row.address,
        lowest=Severity(row.lowest),
        after_s=row.after_s,
        active=row.active,
        secret=row.secret,
        created_at=row.created_at,
    )


def _delivery_values(delivery: Delivery) -> dict[str, Any]:
    return {
        "alarm_id": delivery.alarm_id,
        "route_id": delivery.route_id,
        "channel": delivery.channel.value,
        "address": delivery.address,
        "occasion": delivery.occasion.value,
        "state": delivery.state.value,
        "attempts": delivery.attempts,
        "next_at": delivery.next_at,
        "error": delivery.error,
        "sent_at": delivery.sent_at,
    }


def _delivery(row: Row[Any]) -> Delivery:
    return Delivery(
        id=row.id,
        alarm_id=row.alarm_id,
        route_id=row.route_id,
        channel=ChannelKind(row.channel),
        address=row.address,
        occasion=Occasion(row.occasion),
        state=DeliveryState(row.state),
        attempts=row.attempts,
        next_at=row.next_at,
        error=row.error,
        sent_at=row.sent_at,
    )
