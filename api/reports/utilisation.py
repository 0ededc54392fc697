"""How much chargers are used: occupied and charging time per EVSE, sessions a day.

Times are clipped to the period. Occupied is from plug-in to plug-out; charging is that without the
pauses, whether the car asked for nothing or the sharing of the supply held it back.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

from sqlalchemy import and_, case, func, literal, not_, select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.deps import Central
from api.reports.chart import Bars
from api.reports.kind import Asked, ReportKind
from api.reports.pieces import overlapping
from api.reports.report import Cell, Column, Report, Row
from api.reports.spans import epoch, larger, quiet_s, smaller
from api.web.order import natural
from csms.stations.model import Verdict
from csms.store.tables.sessions import session as sessions
from csms.store.tables.stations import evse as evses
from csms.store.tables.stations import station as stations

ID = "utilisation"
TITLE = "Use of the chargers"
COLUMNS = (
    Column("id", "Charger"),
    Column("name", "Name"),
    Column("evse", "EVSE"),
    Column("sessions", "Sessions"),
    Column("sessions_per_day", "Sessions a day"),
    Column("occupied_s", "Occupied, s", "s"),
    Column("charging_s", "Charging, s", "s"),
    Column("occupied_percent", "Occupied, %", "%"),
    Column("charging_percent", "Charging, %", "%"),
    Column("energy_wh", "Energy of sessions that began here, Wh", "Wh"),
)
NOTES = (
    "Occupied is the time from plug-in to plug-out inside the period; charging is that without pauses.",
    "A session counts, with its energy, where it began. A refused card that drew nothing counts nowhere.",
    "Percentages are of the period, as far as it is over; in the sum they are the mean over all EVSEs.",
)
_HUNDREDTH = Decimal("0.01")


@dataclass(slots=True)
class _Use:
    sessions: int = 0
    energy_wh: int = 0
    occupied_s: int = 0
    quiet_s: int = 0


_Place = tuple[str, int | None]


async def _run(central: Central, asked: Asked) -> Report:
    now = central.clock.now()
    async with central.database.read() as connection:
        found = await _uses(connection, asked, now)
        called = await _places(connection, asked.site.id)
    for place in found:
        called.setdefault(place, place[0])
    # Where a station's EVSEs are known, a session without one has a row of its own.
    over = max(min(now, asked.period.end), asked.period.start + timedelta(seconds=1))
    whole_s = int((over - asked.period.start).total_seconds())
    rows = [_row(place, name, found.get(place, _Use()), whole_s) for place, name in sorted_places(called)]
    total = _Use()
    for use in found.values():
        for field in ("sessions", "energy_wh", "occupied_s", "quiet_s"):
            setattr(total, field, getattr(total, field) + getattr(use, field))
    several = Counter(row["id"] for row in rows)
    labels = tuple(
        f"{row['name']} · {row['evse'] or '?'}" if several[row["id"]] > 1 else f"{row['name']}"
        for row in rows
    )
    charging = tuple(float(str(row["charging_percent"])) for row in rows)
    occupied = tuple(float(str(row["occupied_percent"])) for row in rows)
    rest = tuple(max(0.0, one - other) for one, other in zip(occupied, charging, strict=True))
    return Report(
        id=ID,
        title=TITLE,
        about=asked.about,
        columns=COLUMNS,
        items=tuple(rows),
        unknown=(),
        totals=(_row(("", None), "Total", total, whole_s, max(1, len(rows))),),
        notes=(
            *NOTES,
            *(("The period is not over; these are the figures so far.",) if now < asked.period.end else ()),
        ),
        chart=Bars(
            TITLE, "% of the period", labels, (("Charging", charging), ("Plugged in, not charging", rest))
        ),
    )


async def _uses(connection: AsyncConnection, asked: Asked, now: datetime) -> Mapping[_Place, _Use]:
    period = asked.period
    start, end = int(period.start.timestamp()), int(period.end.timestamp())
    wanted = and_(
        overlapping(asked.site.id, period.start, period.end),
        not_(
            and_(
                sessions.c.verdict.not_in(("", Verdict.ACCEPTED.value)),
                sessions.c.energy_wh == 0,
            )
        ),
    )
    begin = larger(epoch(sessions.c.started_at), literal(start))
    until = func.coalesce(epoch(sessions.c.ended_at), literal(int(now.timestamp())))
    finish = larger(smaller(until, literal(end)), begin)
    keys = (sessions.c.station_id.label("station"), sessions.c.evse.label("number"))
    here = sessions.c.started_at >= period.start
    found: dict[_Place, _Use] = {}
    query = (
        select(
            *keys,
            func.sum(case((here, 1), else_=0)).label("sessions"),
            func.sum(case((here, sessions.c.energy_wh), else_=0)).label("energy_wh"),
            func.sum(finish - begin).label("occupied_s"),
        )
        .where(wanted)
        .group_by("station", "number")
    )
    for row in await connection.execute(query):
        found[row.station, row.number] = _Use(row.sessions, int(row.energy_wh), int(row.occupied_s))
    quiet = quiet_s(select(*keys).where(wanted), ("station", "number"), begin, finish)
    for row in await connection.execute(quiet):
        found[row.station, row.number].quiet_s = int(row.quiet_s)
    return found


async def _places(connection: AsyncConnection, site_id: str) -> dict[_Place, str]:
    """All EVSEs of the site, also those that nobody used; one of a station of which none is known."""
    query = (
        select(stations.c.id, stations.c.name, evses.c.number)
        .outerjoin(evses, and_(evses.c.station_id == stations.c.id, evses.c.number > 0))
        .where(stations.c.site_id == site_id)
        .distinct()
    )
    return {(row.id, row.number or 1): row.name or row.id for row in await connection.execute(query)}


def sorted_places(called: Mapping[_Place, str]) -> Sequence[tuple[_Place, str]]:
    """By name, id and number."""
    return sorted(called.items(), key=lambda each: (natural(each[1]), each[0][0], each[0][1] or 0))


def _row(place: _Place, name: str, use: _Use, whole_s: int, count: int = 1) -> Row:
    charging_s = use.occupied_s - use.quiet_s
    days = Decimal(whole_s) / 86400

    def percent(part_s: int) -> Decimal:
        return (Decimal(100 * part_s) / whole_s / count).quantize(_HUNDREDTH, ROUND_HALF_UP)

    row: dict[str, Cell] = {
        "id": place[0],
        "name": name,
        "evse": place[1],
        "sessions": use.sessions,
        "sessions_per_day": (Decimal(use.sessions) / days).quantize(_HUNDREDTH, ROUND_HALF_UP),
        "occupied_s": use.occupied_s,
        "charging_s": charging_s,
        "occupied_percent": percent(use.occupied_s),
        "charging_percent": percent(charging_s),
        "energy_wh": use.energy_wh,
    }
    return row


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="How long each charger was occupied and charging, and how many sessions it had a day.",
    run=_run,
    columns=COLUMNS,
)
