"""The row of a site's location."""

from dataclasses import asdict, fields
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.sites.location.location import SiteLocation
from csms.store.dialects import upsert
from csms.store.tables.sites import site_location as locations

_FIELDS = tuple(field.name for field in fields(SiteLocation))


async def find_location(connection: AsyncConnection, site_id: str) -> SiteLocation | None:
    row = (await connection.execute(select(locations).where(locations.c.site_id == site_id))).one_or_none()
    return None if row is None else SiteLocation(**{name: getattr(row, name) for name in _FIELDS})


async def put_location(
    connection: AsyncConnection, dialect: str, site_id: str, location: SiteLocation, now: datetime
) -> None:
    values = {**asdict(location), "changed_at": now}
    statement = upsert(dialect, locations).values(site_id=site_id, **values)
    await connection.execute(
        statement.on_conflict_do_update(index_elements=[locations.c.site_id], set_=values)
    )
