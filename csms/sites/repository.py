"""The SQL of sites and circuits. Every function works in the transaction of its caller."""

from datetime import time
from typing import Any

from sqlalchemy import Row, delete, func, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import InvalidInput, NotFound
from csms.sites.model import (
    CapWindow,
    Circuit,
    CircuitMeter,
    Fairness,
    LineAmps,
    MeterCounts,
    Sharing,
    Site,
    System,
)
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import access_right
from csms.store.tables.sites import circuit as circuits
from csms.store.tables.sites import site as sites
from csms.store.tables.stations import station as stations
from csms.store.tables.tariffs import tariff as tariffs
from csms.units import from_milli, milli


async def insert_site(connection: AsyncConnection, site: Site) -> None:
    await connection.execute(insert(sites).values(_site_values(site)))


async def update_site(connection: AsyncConnection, site: Site) -> None:
    """Raises InvalidInput (`currency`) when another currency would leave the site's tariffs behind."""
    row = (await connection.execute(select(sites.c.currency).where(sites.c.id == site.id))).one_or_none()
    if row is not None and row.currency != site.currency:
        count = await count_tariffs(connection, site.id)
        if count:
            raise InvalidInput(
                "currency", f"stays {row.currency}: the site has {count} tariffs in it; delete them first"
            )
    await connection.execute(update(sites).where(sites.c.id == site.id).values(_site_values(site)))


async def count_tariffs(connection: AsyncConnection, site_id: str) -> int:
    """How many tariffs the site has; they are in its currency."""
    query = select(func.count()).where(tariffs.c.site_id == site_id)
    return int((await connection.execute(query)).scalar_one())


async def find_site(connection: AsyncConnection, site_id: str, *, lock: bool = False) -> Site | None:
    """With `lock`, nobody else changes the site's tree until the transaction ends."""
    query = select(sites).where(sites.c.id == site_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    return None if row is None else _site(row)


async def get_site(connection: AsyncConnection, site_id: str, *, lock: bool = False) -> Site:
    """As `find_site`, but NotFound when there is none."""
    site = await find_site(connection, site_id, lock=lock)
    if site is None:
        raise NotFound("site", site_id)
    return site


async def list_sites(connection: AsyncConnection, *, after: str | None, limit: int) -> Page[Site]:
    return await fetch_page(connection, select(sites), sites.c.id, _site, after=after, limit=limit)


async def insert_circuit(connection: AsyncConnection, circuit: Circuit) -> None:
    await connection.execute(insert(circuits).values(_circuit_values(circuit)))


async def update_circuit(connection: AsyncConnection, circuit: Circuit) -> None:
    where = circuits.c.id == circuit.id
    await connection.execute(update(circuits).where(where).values(_circuit_values(circuit)))


async def delete_circuit(connection: AsyncConnection, circuit_id: str) -> None:
    await connection.execute(delete(circuits).where(circuits.c.id == circuit_id))


async def find_circuit(connection: AsyncConnection, circuit_id: str) -> Circuit | None:
    row = (await connection.execute(select(circuits).where(circuits.c.id == circuit_id))).one_or_none()
    return None if row is None else _circuit(row)


async def get_circuit(connection: AsyncConnection, circuit_id: str) -> Circuit:
    """As `find_circuit`, but NotFound when there is none."""
    circuit = await find_circuit(connection, circuit_id)
    if circuit is None:
        raise NotFound("circuit", circuit_id)
    return circuit


async def get_with_site(connection: AsyncConnection, circuit_id: str) -> tuple[Site, Circuit]:
    """The circuit and its site, which is locked: two changes at once cannot make a loop together."""
    site = await get_site(connection, (await get_circuit(connection, circuit_id)).site_id, lock=True)
    return site, await get_circuit(connection, circuit_id)


async def circuits_of(connection: AsyncConnection, site_id: str) -> tuple[Circuit, ...]:
    query = select(circuits).where(circuits.c.site_id == site_id).order_by(circuits.c.id)
    return tuple(_circuit(row) for row in await connection.execute(query))


async def list_circuits(
    connection: AsyncConnection, site_id: str, *, after: str | None, limit: int
) -> Page[Circuit]:
    query = select(circuits).where(circuits.c.site_id == site_id)
    return await fetch_page(connection, query, circuits.c.id, _circuit, after=after, limit=limit)


async def hanging_on(connection: AsyncConnection, circuit_id: str) -> dict[str, int]:
    """How many of each sort of thing would be left without the circuit; only those that are there."""
    counted = {
        "circuits": select(func.count()).where(circuits.c.fed_from == circuit_id),
        "stations": select(func.count()).where(stations.c.circuit_id == circuit_id),
        "access rights": select(func.count()).where(access_right.c.circuit_id == circuit_id),
    }
    found = {what: int((await connection.execute(query)).scalar_one()) for what, query in counted.items()}
    return {what: count for what, count in found.items() if count}


def _site(row: Row[Any]) -> Site:
    return Site(
        id=row.id,
        name=row.name,
        time_zone=row.time_zone,
        currency=row.currency,
        system=System(row.system),
        active=row.active,
        created_at=row.created_at,
        strategy=Sharing(row.strategy),
        fairness=Fairness(row.fairness),
    )


def _site_values(site: Site) -> dict[str, Any]:
    return {
        "id": site.id,
        "name": site.name,
        "time_zone": site.time_zone,
        "currency": site.currency,
        "system": site.system.value,
        "active": site.active,
        "created_at": site.created_at,
        "strategy": site.strategy.value,
        "fairness": site.fairness.value,
    }


def _circuit(row: Row[Any]) -> Circuit:
    meter = row.meter
    return Circuit(
        id=row.id,
        site_id=row.site_id,
        name=row.name,
        fed_from=row.fed_from,
        limit_a=_amps(row.limit_l1_ma, row.limit_l2_ma, row.limit_l3_ma),
        device_a=from_milli(row.device_ma),
        cap_w=row.cap_w,
        cap_windows=tuple(
            CapWindow(time.fromisoformat(each["start"]), time.fromisoformat(each["end"]), int(each["cap_w"]))
            for each in row.caps or ()
        ),
        unbalance_a=from_milli(row.unbalance_ma),
        worst_base_a=_amps(row.worst_base_l1_ma, row.worst_base_l2_ma, row.worst_base_l3_ma),
        meter=None
        if meter is None
        else CircuitMeter(MeterCounts(meter["counts"]), float(meter["period_s"]), meter.get("input")),
    )


def _circuit_values(circuit: Circuit) -> dict[str, Any]:
    meter = circuit.meter
    values: dict[str, Any] = {
        "id": circuit.id,
        "site_id": circuit.site_id,
        "name": circuit.name,
        "fed_from": circuit.fed_from,
        "device_ma": None if circuit.device_a is None else milli(circuit.device_a),
        "cap_w": circuit.cap_w,
        "caps": [
            {"start": f"{each.start:%H:%M}", "end": f"{each.end:%H:%M}", "cap_w": each.cap_w}
            for each in circuit.cap_windows
        ]
        or None,
        "unbalance_ma": None if circuit.unbalance_a is None else milli(circuit.unbalance_a),
        "meter": None if meter is None else _meter(meter),
    }
    for i in range(3):
        values[f"limit_l{i + 1}_ma"] = milli(circuit.limit_a[i])
        values[f"worst_base_l{i + 1}_ma"] = milli(circuit.worst_base_a[i])
    return values


def _meter(meter: CircuitMeter) -> dict[str, Any]:
    values: dict[str, Any] = {"counts": meter.counts.value, "period_s": meter.period_s}
    return values if meter.input is None else values | {"input": dict(meter.input)}


def _amps(l1_ma: int, l2_ma: int, l3_ma: int) -> LineAmps:
    return (l1_ma / 1000, l2_ma / 1000, l3_ma / 1000)
