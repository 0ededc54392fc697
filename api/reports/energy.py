"""Energy and cost of a period, by charger, token, member, group, site, hour or month.

A session that reaches over the period's edge, or from one month or hour into the next, is in each with
what it took there. Sessions that lie within are added up in the database; only the others are cut.
"""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, and_, case, func, literal, not_, null, or_, select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.deps import Central
from api.reports.chart import Bars, Chart, Curves
from api.reports.kind import Ask, Asked, Parameter, ReportKind
from api.reports.names import NOBODY, Of, groups_of, names
from api.reports.orphans import orphan_note
from api.reports.period import months, offset_s, steps
from api.reports.pieces import Charged, charged, crossing, cut, overlapping, seconds
from api.reports.report import Column, Report
from api.reports.sums import COLUMNS as SUMS
from api.reports.sums import Sums, notes_of
from api.web.order import natural
from csms.store.tables.sessions import session as sessions

ID = "energy"
TITLE = "Energy and cost"
HOUR_S = 3600
LONGEST_DAYS = 400
COLUMNS = (Column("id", "Id"), Column("name", "Name"), *SUMS)

RULES = (
    "A session that reaches over an edge of the period, or of an hour or month, is in each part with the "
    "energy it took there, and counts as a session in each.",
    "The cost of such a session is spread by its energy; the ledger books fees by its own rules.",
)


class By(StrEnum):
    """What there is a row for."""

    MEMBER = "member"
    TOKEN = "token"  # noqa: S105 (a card, no secret)
    CHARGER = "charger"
    GROUP = "group"
    SITE = "site"
    HOUR = "hour"
    MONTH = "month"


_Key = tuple[str | None, int]
"""Whose (None: nobody's), and the number of the interval."""


async def _run(central: Central, asked: Asked) -> Report:
    by, site, period = By(asked.values["by"]), asked.site, asked.period
    zone = ZoneInfo(site.time_zone)
    edges = [period.start, period.end]
    if by is By.HOUR:
        edges = steps(period, zone, HOUR_S)
    elif by is By.MONTH:
        edges = [period.start, *months(period, zone), period.end]
    async with central.database.read() as connection:
        found = await _sums(connection, asked, by, edges, central.clock.now())
        called = await _called(connection, site.id, by)
        grouped = await groups_of(connection, site.id) if by is By.GROUP else {}
        orphans = await orphan_note(connection, site.id, period)
    if by in (By.HOUR, By.MONTH):
        shown = "%Y-%m" if by is By.MONTH else "%Y-%m-%dT%H:%M%z"
        labels = [f"{edge.astimezone(zone):{shown}}" for edge in edges[:-1]]
    rows: defaultdict[tuple[str | None, str, str], Sums] = defaultdict(Sums)
    for (key, place, currency), sums in found.items():
        if by in (By.HOUR, By.MONTH):
            rows[labels[place], labels[place], currency].add(sums)
        elif by is By.SITE:
            rows[site.id, site.name, currency].add(sums)
        elif by is By.GROUP:
            at = ("", "Without a group") if key is not None else (None, NOBODY[Of.MEMBER])
            group_id, name = grouped.get(key, at) if key is not None else at
            rows[group_id, name, currency].add(sums)
        else:
            nobody = NOBODY.get(Of.TOKEN if by is By.TOKEN else Of.MEMBER, "")
            rows[key, nobody if key is None else called.get(key, key), currency].add(sums)
    if by in (By.HOUR, By.MONTH):
        for label in labels:
            if not any(key == label for key, _, _ in rows):
                rows[label, label, site.currency] = Sums()
    totals: dict[str, Sums] = {} if rows else {site.currency: Sums()}
    whole = Sums()
    for (_, _, currency), sums in rows.items():
        totals.setdefault(currency, Sums()).add(sums)
        whole.add(sums)
    ordered = sorted(rows.items(), key=lambda each: (natural(each[0][1]), each[0][0] or "", each[0][2]))
    if by is By.HOUR:
        places = {label: place for place, label in enumerate(labels)}
        ordered.sort(key=lambda each: places[each[0][1]])
    return Report(
        id=ID,
        title=f"{TITLE} by {by}",
        about=asked.about,
        columns=COLUMNS,
        items=tuple(s.row(key, name, tender) for (key, name, tender), s in ordered if key is not None),
        unknown=tuple(s.row("", name, tender) for (key, name, tender), s in ordered if key is None),
        totals=tuple(totals[currency].row("", "Total", currency) for currency in sorted(totals)),
        notes=(*RULES, *notes_of(whole), *orphans),
        chart=_chart(by, edges, zone, [(name, sums) for (_, name, _), sums in ordered]),
    )


async def _sums(
    connection: AsyncConnection, asked: Asked, by: By, edges: Sequence[datetime], now: datetime
) -> dict[tuple[str | None, int, str], Sums]:
    site_id, period = asked.site.id, asked.period
    found: defaultdict[tuple[str | None, int, str], Sums] = defaultdict(Sums)
    wanted = overlapping(site_id, period.start, period.end)
    if by is not By.HOUR:
        crossed = or_(
            crossing(period.start, period.end),
            *(and_(sessions.c.started_at < edge, sessions.c.ended_at > edge) for edge in edges[1:-1]),
        )
        await _add_whole(connection, asked, by, edges, and_(wanted, not_(crossed)), found)
        wanted = and_(wanted, crossed)
    bounds = seconds(edges)
    shift_s = offset_s(period, ZoneInfo(asked.site.time_zone)) % HOUR_S
    async for each in charged(connection, wanted, now, HOUR_S, shift_s):
        for piece in cut(each, bounds):
            found[_key(each, by), piece.place, each.currency or asked.site.currency].add(
                Sums(
                    sessions=1,
                    energy_wh=piece.energy_wh,
                    excl=piece.excl,
                    incl=piece.incl,
                    unpriced=int(each.excl is None and not each.open),
                    vat_unknown=int(each.excl is not None and each.incl is None),
                    running=int(each.open),
                    marked=int(each.marked),
                    estimated_wh=piece.energy_wh if piece.estimated else 0,
                )
            )
    return dict(found)


async def _add_whole(
    connection: AsyncConnection,
    asked: Asked,
    by: By,
    edges: Sequence[datetime],
    wanted: ColumnElement[bool],
    found: defaultdict[tuple[str | None, int, str], Sums],
) -> None:
    """The sessions that no edge cuts, added up in the database."""
    place: ColumnElement[int] = literal(0)
    for edge in edges[1:-1]:
        place = place + case((sessions.c.started_at >= edge, 1), else_=0)
    unpriced = sessions.c.cost_excl_minor.is_(None)
    query = (
        select(
            _COLUMN.get(by, null()).label("owner"),
            place.label("place"),
            func.coalesce(sessions.c.currency, literal(asked.site.currency)).label("tender"),
            func.count().label("sessions"),
            func.sum(sessions.c.energy_wh).label("energy_wh"),
            func.sum(func.coalesce(sessions.c.cost_excl_minor, 0)).label("excl"),
            func.sum(func.coalesce(sessions.c.cost_incl_minor, sessions.c.cost_excl_minor, 0)).label("incl"),
            func.sum(case((unpriced, 1), else_=0)).label("unpriced"),
            func.sum(case((and_(sessions.c.cost_incl_minor.is_(None), not_(unpriced)), 1), else_=0)).label(
                "vat_unknown"
            ),
            func.sum(case((sessions.c.marks != {}, 1), else_=0)).label("marked"),
        )
        .where(wanted)
        .group_by("owner", "place", "tender")
    )
    for row in await connection.execute(query):
        found[row.owner, row.place, row.tender].add(
            Sums(
                sessions=row.sessions,
                energy_wh=int(row.energy_wh),
                excl=int(row.excl),
                incl=int(row.incl),
                unpriced=row.unpriced,
                vat_unknown=row.vat_unknown,
                marked=row.marked,
            )
        )


_COLUMN: dict[By, ColumnElement[str | None]] = {
    By.MEMBER: sessions.c.member_id,
    By.GROUP: sessions.c.member_id,
    By.TOKEN: sessions.c.token_id,
    By.CHARGER: sessions.c.station_id,
}


def _key(session: Charged, by: By) -> str | None:
    if by in (By.MEMBER, By.GROUP):
        return session.member_id
    if by is By.TOKEN:
        return session.token_id
    return session.station_id if by is By.CHARGER else None


async def _called(connection: AsyncConnection, site_id: str, by: By) -> dict[str, str]:
    of = {By.MEMBER: Of.MEMBER, By.TOKEN: Of.TOKEN, By.CHARGER: Of.STATION}.get(by)
    return {} if of is None else await names(connection, site_id, of)


def _chart(by: By, edges: Sequence[datetime], zone: ZoneInfo, rows: Sequence[tuple[str, Sums]]) -> Chart:
    energies = tuple(sums.energy_wh / 1000 for _, sums in rows)
    if by is By.HOUR:
        at = tuple(edge.astimezone(zone) for edge in edges[:-1])
        if len(at) == len(energies):
            return Curves("Energy by hour", "kWh", at, (("Energy", energies),))
    return Bars(f"Energy by {by}", "kWh", tuple(name for name, _ in rows), (("Energy", energies),))


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="Who or what took how much in a period, cut exactly at its edges, and what that costs.",
    run=_run,
    columns=COLUMNS,
    parameters=(
        Parameter(
            name="by",
            title="A row for each",
            ask=Ask.CHOICE,
            about="what there is a row for",
            choices=tuple(By),
            default=By.MEMBER,
        ),
    ),
    longest_days=LONGEST_DAYS,
)
