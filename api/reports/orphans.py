"""What reports say of steps that fit no session: energy that is in none of their rows."""

from sqlalchemy import func, select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.reports.period import Period
from csms.store.tables.sessions import orphan_step as orphans
from csms.store.tables.stations import station as stations


async def orphan_note(connection: AsyncConnection, site_id: str, period: Period) -> tuple[str, ...]:
    """One note, or none."""
    query = (
        select(func.count())
        .select_from(orphans)
        .join(stations, stations.c.id == orphans.c.station_id)
        .where(stations.c.site_id == site_id, orphans.c.resolved_at.is_(None))
        .where(orphans.c.at >= period.start, orphans.c.at < period.end)
    )
    count = (await connection.execute(query)).scalar_one()
    if not count:
        return ()
    return (
        f"Steps that fit no session: {count}. Their energy is in no row until you settle them (/v1/orphans).",
    )
