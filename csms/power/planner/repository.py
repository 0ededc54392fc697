"""Rows of needs, prices and base loads. Energies in Wh, prices in millionths per kWh, currents in mA."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time

from sqlalchemy import Row, delete, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.power.planner.forecast import BaseSample
from csms.power.planner.need import MemberNeed, Source, Told
from csms.power.planner.prices import MICRO, Prices, PriceSlice
from csms.store.dialects import upsert
from csms.store.tables.planning import base_sample, car_need, member_need, session_need, site_price
from csms.units import milli


@dataclass(frozen=True, slots=True, kw_only=True)
class CarNeed:
    """What the car at an EVSE told, and the session that ran then."""

    station_id: str
    evse: int
    told_at: datetime
    session_id: int | None
    told: Told


async def get_member_needs(connection: AsyncConnection, members: Iterable[str]) -> dict[str, MemberNeed]:
    """By member; who has none is not there."""
    query = select(member_need).where(member_need.c.member_id.in_(list(members)))
    return {row.member_id: _member_need(row) for row in await connection.execute(query)}


async def put_member_need(
    connection: AsyncConnection, dialect: str, member_id: str, need: MemberNeed, now: datetime
) -> None:
    values = {
        "member_id": member_id,
        "days": "".join(str(day) for day in need.days),
        "leaves_at": f"{need.leaves_at:%H:%M}",
        "energy_wh": need.energy_wh,
        "to_percent": need.to_percent,
        "battery_wh": need.battery_wh,
        "changed_at": now,
    }
    statement = upsert(dialect, member_need).values(values)
    await connection.execute(
        statement.on_conflict_do_update(index_elements=("member_id",), set_=_without(values, "member_id"))
    )


async def drop_member_need(connection: AsyncConnection, member_id: str) -> bool:
    """False: there was none."""
    done = await connection.execute(delete(member_need).where(member_need.c.member_id == member_id))
    return done.rowcount > 0


async def get_session_needs(connection: AsyncConnection, sessions: Iterable[int]) -> dict[int, Told]:
    """What people told, by session."""
    query = select(session_need).where(session_need.c.session_id.in_(list(sessions)))
    return {
        row.session_id: Told(
            source=Source.PERSON,
            departure=row.departure,
            energy_wh=row.energy_wh,
            to_percent=row.to_percent,
            battery_wh=row.battery_wh,
            soc_percent=row.soc_percent,
            at_wh=row.at_energy_wh,
        )
        for row in await connection.execute(query)
    }


async def put_session_need(
    connection: AsyncConnection, dialect: str, session_id: int, told: Told, now: datetime
) -> None:
    values = {
        "session_id": session_id,
        "departure": told.departure,
        "energy_wh": told.energy_wh,
        "to_percent": told.to_percent,
        "battery_wh": told.battery_wh,
        "soc_percent": None if told.soc_percent is None else int(told.soc_percent),
        "at_energy_wh": told.at_wh,
        "changed_at": now,
    }
    statement = upsert(dialect, session_need).values(values)
    await connection.execute(
        statement.on_conflict_do_update(index_elements=("session_id",), set_=_without(values, "session_id"))
    )


async def drop_session_need(connection: AsyncConnection, session_id: int) -> bool:
    """False: there was none."""
    done = await connection.execute(delete(session_need).where(session_need.c.session_id == session_id))
    return done.rowcount > 0


async def get_car_needs(connection: AsyncConnection, stations: Iterable[str]) -> list[CarNeed]:
    """What cars told at these stations."""
    query = select(car_need).where(car_need.c.station_id.in_(list(stations)))
    return [
        CarNeed(
            station_id=row.station_id,
            evse=row.evse,
            told_at=row.told_at,
            session_id=row.session_id,
            told=Told(
                source=Source.CAR,
                departure=row.departure,
                energy_wh=row.energy_wh,
                to_percent=row.to_percent,
                battery_wh=row.battery_wh,
                soc_percent=row.soc_percent,
                from_wh=row.at_energy_wh,
                at_wh=row.at_energy_wh,
            ),
        )
        for row in await connection.execute(query)
    ]


async def put_car_need(connection: AsyncConnection, dialect: str, need: CarNeed) -> None:
    told = need.told
    values = {
        "station_id": need.station_id,
        "evse": need.evse,
        "told_at": need.told_at,
        "departure": told.departure,
        "energy_wh": told.energy_wh,
        "battery_wh": told.battery_wh,
        "soc_percent": None if told.soc_percent is None else int(told.soc_percent),
        "to_percent": told.to_percent,
        "session_id": need.session_id,
        "at_energy_wh": told.from_wh,
    }
    keys = ("station_id", "evse")
    statement = upsert(dialect, car_need).values(values)
    await connection.execute(
        statement.on_conflict_do_update(index_elements=keys, set_=_without(values, *keys))
    )


async def get_prices(
    connection: AsyncConnection, site_id: str, start: datetime | None = None, end: datetime | None = None
) -> Prices | None:
    """Those that touch the interval, in order; None: there are none."""
    query = select(site_price).where(site_price.c.site_id == site_id)
    if start is not None:
        query = query.where(site_price.c.end_at > start)
    if end is not None:
        query = query.where(site_price.c.start_at < end)
    rows = (await connection.execute(query.order_by(site_price.c.start_at))).all()
    if not rows:
        return None
    slices = tuple(PriceSlice(row.start_at, row.end_at, row.per_kwh_micro * MICRO) for row in rows)
    return Prices(rows[0].currency, slices)


async def replace_prices(
    connection: AsyncConnection, site_id: str, currency: str, slices: Sequence[PriceSlice]
) -> None:
    """These in place of all there were."""
    await connection.execute(delete(site_price).where(site_price.c.site_id == site_id))
    if slices:
        rows = [
            {
                "site_id": site_id,
                "start_at": each.start,
                "end_at": each.end,
                "per_kwh_micro": int((each.per_kwh / MICRO).to_integral_value()),
                "currency": currency,
            }
            for each in slices
        ]
        await connection.execute(insert(site_price), rows)


async def get_base(connection: AsyncConnection, circuits: Iterable[str], since: datetime) -> list[BaseSample]:
    """Base loads of circuits since then, in order of time."""
    query = (
        select(base_sample)
        .where(base_sample.c.circuit_id.in_(list(circuits)), base_sample.c.at >= since)
        .order_by(base_sample.c.at)
    )
    return [
        BaseSample(row.circuit_id, row.at, (row.l1_ma / 1000, row.l2_ma / 1000, row.l3_ma / 1000))
        for row in await connection.execute(query)
    ]


async def put_base(connection: AsyncConnection, dialect: str, samples: Iterable[BaseSample]) -> None:
    """Add what is not there yet."""
    rows = [
        {
            "circuit_id": sample.circuit,
            "at": sample.at,
            **{f"l{i}_ma": milli(value) for i, value in enumerate(sample.line_a, 1)},
        }
        for sample in samples
    ]
    if rows:
        statement = upsert(dialect, base_sample)
        keys = ("circuit_id", "at")
        await connection.execute(statement.on_conflict_do_nothing(index_elements=keys), rows)


async def drop_base(connection: AsyncConnection, before: datetime) -> None:
    await connection.execute(delete(base_sample).where(base_sample.c.at < before))


def _member_need(row: Row[tuple[object, ...]]) -> MemberNeed:
    return MemberNeed(
        days=tuple(int(day) for day in row.days),
        leaves_at=time.fromisoformat(row.leaves_at),
        energy_wh=row.energy_wh,
        to_percent=row.to_percent,
        battery_wh=row.battery_wh,
    )


def _without(values: Mapping[str, object], *keys: str) -> dict[str, object]:
    return {name: value for name, value in values.items() if name not in keys}
