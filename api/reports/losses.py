"""Losses: what the main meter of the chargers counted, less what the chargers' sessions took.

The main meter's registers are those that somebody has entered for the site; at the period's edges they
are linear between two readings. What a charger's register gained between two sessions is told apart:
it is no loss of the line, and nobody's session.
"""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise

from sqlalchemy import case, func, select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.deps import Central
from api.reports.chart import Bars
from api.reports.kind import Asked, ReportKind
from api.reports.orphans import orphan_note
from api.reports.pieces import charged, crossing, cut, overlapping, seconds
from api.reports.report import Cell, Column, Report, Row
from csms.stations.model import Verdict
from csms.store.tables.ledger import supply_register as registers
from csms.store.tables.sessions import session as sessions

ID = "losses"
TITLE = "Losses"
USUAL_PERCENT = (1, 5)
"""What is usual on the way from a garage's main meter to its chargers (common practice)."""
COLUMNS = (
    Column("id", "Id"),
    Column("name", "What"),
    Column("energy_wh", "Energy, Wh", "Wh"),
    Column("percent", "Of the main meter, %", "%"),
)
NOTES = (
    "Losses are the main meter less all sessions, and less what chargers counted between sessions.",
    "Sessions that reach over an edge of the period are cut there.",
)

Register = tuple[datetime, int]


def counted(
    readings: Sequence[tuple[str, datetime, int]], start: datetime, end: datetime
) -> tuple[int | None, bool, str]:
    """(energy in Wh of the main meters, whether an edge was interpolated, what is missing).

    `readings` are (serial number, time, register) in order of time. A meter that was changed goes on with
    the next one; registers of one meter must not fall.
    """
    by_meter: defaultdict[str, list[Register]] = defaultdict(list)
    for serial, at, register_wh in readings:
        by_meter[serial].append((at, register_wh))
    if not by_meter:
        return None, False, "there is no register of the main meter"
    meters = sorted(by_meter.values(), key=lambda each: each[0][0])
    if meters[0][0][0] > start:
        return None, False, f"there is no register at or before {start.isoformat()}"
    if max(each[-1][0] for each in meters) < end:
        return None, False, f"there is no register at or after {end.isoformat()}"
    energy_wh, interpolated = 0, False
    for each in meters:
        if any(later[1] < earlier[1] for earlier, later in pairwise(each)):
            return None, False, "a register of the main meter falls; enter the new meter by its own number"
        low, high = max(start, each[0][0]), min(end, each[-1][0])
        if high <= low:
            continue
        first, one = _at(each, low)
        last, other = _at(each, high)
        energy_wh += last - first
        interpolated = interpolated or one or other
    return energy_wh, interpolated, ""


def _at(readings: Sequence[Register], at: datetime) -> tuple[int, bool]:
    """The register then, and whether it is between two readings."""
    for (low_at, low), (high_at, high) in pairwise(readings):
        if low_at <= at <= high_at:
            if at in (low_at, high_at):
                return (low if at == low_at else high), False
            return low + int((high - low) * ((at - low_at) / (high_at - low_at)) + 0.5), True
    return readings[0][1], False


async def _run(central: Central, asked: Asked) -> Report:
    site_id, period = asked.site.id, asked.period
    async with central.database.read() as connection:
        main_wh, interpolated, missing = counted(await _main(connection, site_id), period.start, period.end)
        members_wh, guests_wh, unknown_wh = await _sessions(connection, asked, central.clock.now())
        between_wh = await _between(connection, asked)
        orphans = await orphan_note(connection, site_id, period)
    chargers_wh = members_wh + guests_wh + unknown_wh
    losses_wh = None if main_wh is None else main_wh - chargers_wh - between_wh
    rows = [
        _row("main", "Main meter of the chargers", main_wh, main_wh),
        _row("members", "Sessions of members", members_wh, main_wh),
        _row("guests", "Sessions of guests", guests_wh, main_wh),
        _row("unknown", "Sessions of refused or unknown tokens", unknown_wh, main_wh),
        _row("between", "Counted by chargers between sessions", between_wh, main_wh),
        _row("losses", "Losses", losses_wh, main_wh),
    ]
    notes = [*NOTES, *orphans]
    if missing:
        notes.append(f"No losses can be told: {missing}.")
    if interpolated:
        notes.append("Estimated: the main meter was not read at an edge of the period (linear between).")
    if main_wh and losses_wh is not None:
        low, high = USUAL_PERCENT
        share = Decimal(100 * losses_wh) / main_wh
        if not low <= share <= high:
            notes.append(
                f"Losses of {share.quantize(Decimal('0.1'))} % are not usual ({low} to {high} % is); look at "
                "meters, missing sessions and other loads on the line."
            )
    return Report(
        id=ID,
        title=TITLE,
        about=asked.about,
        columns=COLUMNS,
        items=tuple(rows),
        unknown=(),
        totals=(_row("", "Sessions in all", chargers_wh, main_wh),),
        notes=tuple(notes),
        chart=Bars(
            TITLE,
            "kWh",
            tuple(str(row["name"]) for row in rows if row["energy_wh"] is not None),
            (
                (
                    "Energy",
                    tuple(int(str(row["energy_wh"])) / 1000 for row in rows if row["energy_wh"] is not None),
                ),
            ),
        ),
    )


async def _main(connection: AsyncConnection, site_id: str) -> list[tuple[str, datetime, int]]:
    query = (
        select(registers.c.serial, registers.c.at, registers.c.register_wh)
        .where(registers.c.site_id == site_id)
        .order_by(registers.c.at, registers.c.serial)
    )
    return [(row.serial, row.at, row.register_wh) for row in await connection.execute(query)]


async def _sessions(connection: AsyncConnection, asked: Asked, now: datetime) -> tuple[int, int, int]:
    """Wh of members, of guests, and of tokens that were refused or unknown."""
    period = asked.period
    wanted = overlapping(asked.site.id, period.start, period.end)
    crossed = crossing(period.start, period.end)
    accepted = sessions.c.verdict.in_(("", Verdict.ACCEPTED.value))
    whose = case((sessions.c.member_id.is_not(None), 0), (accepted, 1), else_=2).label("whose")
    found = [0, 0, 0]
    query = select(whose, func.sum(sessions.c.energy_wh).label("energy_wh")).where(wanted, ~crossed)
    for row in await connection.execute(query.group_by("whose")):
        found[row.whose] += int(row.energy_wh)
    bounds = seconds((period.start, period.end))
    async for each in charged(connection, wanted & crossed, now, 900, 0):
        known = each.verdict in ("", Verdict.ACCEPTED.value)
        place = 0 if each.member_id is not None else 1 if known else 2
        found[place] += sum(piece.energy_wh for piece in cut(each, bounds))
    return found[0], found[1], found[2]


async def _between(connection: AsyncConnection, asked: Asked) -> int:
    """What chargers' registers gained from one session's end to the next one's start; a register that
    begins anew counts nothing."""
    before = func.lag(sessions.c.register_stop_wh).over(
        partition_by=(sessions.c.station_id, sessions.c.evse), order_by=(sessions.c.started_at, sessions.c.id)
    )
    each = (
        select(sessions.c.started_at, sessions.c.register_start_wh.label("begin"), before.label("before"))
        .where(sessions.c.site_id == asked.site.id, sessions.c.evse.is_not(None))
        .where(sessions.c.started_at < asked.period.end)
        .subquery()
    )
    query = select(func.coalesce(func.sum(each.c.begin - each.c.before), 0)).where(
        each.c.started_at >= asked.period.start, each.c.begin > each.c.before, each.c.before > 0
    )
    return int((await connection.execute(query)).scalar_one())


def _row(key: str, name: str, energy_wh: int | None, main_wh: int | None) -> Row:
    share: Cell = None
    if energy_wh is not None and main_wh:
        share = (Decimal(100 * energy_wh) / main_wh).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return {"id": key, "name": name, "energy_wh": energy_wh, "percent": share}


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="The main meter of the chargers beside all sessions: what is lost on the way, or is nobody's.",
    run=_run,
    columns=COLUMNS,
)
