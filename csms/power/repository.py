"""Promises in the database. Times there are instants, here seconds since 1970."""

from collections.abc import Mapping
from datetime import UTC, datetime

from sqlalchemy import Row, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.power.installation import Evse
from csms.power.steering.promises import StoredOffer
from csms.store.dialects import upsert
from csms.store.tables.power import offer
from csms.store.tables.stations import station
from csms.units import milli


async def load(connection: AsyncConnection, site_id: str) -> dict[Evse, StoredOffer]:
    """What was last written down of each EVSE of the site, also while its station was at another."""
    query = select(offer).join(station, station.c.id == offer.c.station_id)
    rows = await connection.execute(query.where(station.c.site_id == site_id))
    return {Evse(row.station_id, row.evse): _stored(row) for row in rows}


async def save(
    connection: AsyncConnection, dialect: str, site_id: str, offers: Mapping[Evse, StoredOffer]
) -> None:
    """Write down `offers` over what there was."""
    statement = upsert(dialect, offer)
    keys = ("station_id", "evse")
    fresh = {c.name: statement.excluded[c.name] for c in offer.c if c.name not in keys}
    statement = statement.on_conflict_do_update(index_elements=keys, set_=fresh)
    await connection.execute(statement, [_values(site_id, evse, found) for evse, found in offers.items()])


def _values(site_id: str, evse: Evse, found: StoredOffer) -> dict[str, object]:
    return {
        "station_id": evse.station_id,
        "evse": evse.evse_id,
        "site_id": site_id,
        "promised_ma": milli(found.promised_a),
        "lapses_at": _instant(found.lapses_s),
        "asked_ma": milli(found.asked_a),
        "accepted": found.accepted,
        "asked_at": _instant(found.asked_s),
        "fallback_stored": found.fallback_stored,
        "stored_ma": None if found.stored_a is None else milli(found.stored_a),
        "takes_zero": found.takes_zero,
        "kept": found.kept,
        "follows": found.follows,
        "line": found.line,
        "then_ma": None if found.then_a is None else milli(found.then_a),
        "then_from": _instant(found.then_from_s),
        "idle_may_end_at": _instant(found.idle_may_end_s),
        "idle_ends_at": _instant(found.idle_ends_s),
    }


def _stored(row: Row[tuple[object, ...]]) -> StoredOffer:
    return StoredOffer(
        promised_a=row.promised_ma / 1000,
        lapses_s=row.lapses_at.timestamp(),
        asked_a=row.asked_ma / 1000,
        accepted=row.accepted,
        asked_s=row.asked_at.timestamp(),
        fallback_stored=row.fallback_stored,
        stored_a=None if row.stored_ma is None else row.stored_ma / 1000,
        takes_zero=row.takes_zero,
        kept=row.kept,
        follows=row.follows,
        line=row.line,
        then_a=None if row.then_ma is None else row.then_ma / 1000,
        then_from_s=row.then_from.timestamp() if row.then_from else None,
        idle_may_end_s=row.idle_may_end_at.timestamp() if row.idle_may_end_at else None,
        idle_ends_s=row.idle_ends_at.timestamp() if row.idle_ends_at else None,
    )


def _instant(seconds: float | None) -> datetime | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC)
