"""Sessions and registers of Weavers' Yard in rows, for reports that add them up."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import insert

from csms.metering import repository as metering
from csms.stations.model import Reading
from csms.store.database import Database
from csms.store.tables.sessions import session, session_pause
from tests.csms.yard import ELSEWHERE, SITE

HOUR = timedelta(hours=1)


async def charged(
    database: Database,
    station_id: str,
    member_id: str | None,
    start: datetime,
    hours: float | None,
    energy_wh: int,
    cost: tuple[int, int | None] | None = None,
    *,
    registers: Sequence[tuple[float, int]] = (),
    begin_wh: int | None = None,
    pauses: Sequence[tuple[float, float | None, bool]] = (),
    marks: tuple[str, ...] = (),
    **more: Any,
) -> int:
    """A session; `cost` in cents without and with VAT; `registers` are (hours after the start, Wh).

    With `begin_wh` the stop register is that plus the energy.
    """
    values = {
        "station_id": station_id,
        "site_id": "mill" if station_id == ELSEWHERE else SITE,
        "evse": 1,
        "state": "charging" if hours is None else "ended",
        "member_id": member_id,
        "token_id": None if member_id is None else f"tok-{member_id}",
        "token_text": "" if member_id is None else f"card of {member_id}",
        "verdict": "accepted",
        "started_at": start,
        "ended_at": None if hours is None else start + hours * HOUR,
        "arrived_at": start,
        "energy_wh": energy_wh,
        "marks": dict.fromkeys(marks, True),
        "tariff_id": cost and "yard",
        "currency": cost and "EUR",
        "cost_excl_minor": cost and cost[0],
        "cost_incl_minor": cost and cost[1],
        "register_start_wh": begin_wh,
        "register_stop_wh": None if begin_wh is None or hours is None else begin_wh + energy_wh,
        **more,
    }
    async with database.write() as connection:
        made = await connection.execute(insert(session).values(values).returning(session.c.id))
        session_id = int(made.scalar_one())
        rows = [
            metering.values(station_id, 1, session_id, Reading(at=start + at * HOUR, register_wh=wh))
            for at, wh in registers
        ]
        await metering.add(connection, rows)
        for begin, end, by_us in pauses:
            await connection.execute(
                insert(session_pause).values(
                    session_id=session_id,
                    from_at=start + begin * HOUR,
                    to_at=None if end is None else start + end * HOUR,
                    by_us=by_us,
                )
            )
    return session_id


def by_id(rows: Sequence[dict[str, Any]], *names: str) -> dict[str, tuple[Any, ...]]:
    """The id of each row to those of its cells."""
    return {row["id"]: tuple(row[name] for name in names) for row in rows}
