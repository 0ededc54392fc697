"""The SQL of certificates that we signed for stations."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.store.tables.security import station_certificate as certificates


@dataclass(frozen=True, slots=True, kw_only=True)
class StationCertificate:
    """`state`: signed, installed, refused or replaced; `serial_number` is hex."""

    id: int = 0
    station_id: str
    use: str
    state: str
    common_name: str
    serial_number: str
    chain_pem: str
    not_after: datetime
    signed_at: datetime
    detail: str = ""


async def add(connection: AsyncConnection, made: StationCertificate) -> int:
    values = {name: getattr(made, name) for name in StationCertificate.__dataclass_fields__ if name != "id"}
    return int(
        (
            await connection.execute(insert(certificates).values(values).returning(certificates.c.id))
        ).scalar_one()
    )


async def installed(connection: AsyncConnection, certificate_id: int, station_id: str, use: str) -> None:
    """The station has taken it; those before it are replaced."""
    before = certificates.c.state == "installed"
    mine = (certificates.c.station_id == station_id, certificates.c.use == use)
    await connection.execute(update(certificates).where(*mine, before).values(state="replaced"))
    await connection.execute(
        update(certificates).where(certificates.c.id == certificate_id).values(state="installed")
    )


async def refused(connection: AsyncConnection, certificate_id: int, detail: str) -> None:
    await connection.execute(
        update(certificates).where(certificates.c.id == certificate_id).values(state="refused", detail=detail)
    )


async def of_station(connection: AsyncConnection, station_id: str) -> tuple[StationCertificate, ...]:
    """The newest first."""
    query = select(certificates).where(certificates.c.station_id == station_id)
    rows = await connection.execute(query.order_by(certificates.c.id.desc()))
    return tuple(_certificate(row) for row in rows)


async def ending(connection: AsyncConnection, before: datetime) -> tuple[StationCertificate, ...]:
    """Installed ones that end before then, the soonest first."""
    query = select(certificates).where(certificates.c.state == "installed", certificates.c.not_after < before)
    rows = await connection.execute(query.order_by(certificates.c.not_after))
    return tuple(_certificate(row) for row in rows)


def _certificate(row: Row[Any]) -> StationCertificate:
    return StationCertificate(
        **{name: getattr(row, name) for name in StationCertificate.__dataclass_fields__}
    )
