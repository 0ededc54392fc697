"""What guests took and paid: sessions that were let in without being a member's.

Energy that a refused or unknown token drew all the same is nobody's income: it has a bucket of its own.
"""

from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from zoneinfo import ZoneInfo

from sqlalchemy import and_, case, func, or_, select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.deps import Central
from api.reports.chart import Bars
from api.reports.kind import Ask, Asked, Parameter, ReportKind
from api.reports.names import Of, names
from api.reports.period import Period, days, months
from api.reports.report import Cell, Column, Report, Row
from api.reports.spans import epoch
from api.reports.sums import COLUMNS as SUMS
from api.reports.sums import Sums, notes_of
from api.web.order import natural
from csms.money import Currency
from csms.stations.model import Verdict
from csms.store.tables.sessions import session as sessions

ID = "guests"
TITLE = "Income from guests"
COLUMNS = (
    Column("id", "Id"),
    Column("name", "Name"),
    *(column for column in SUMS if column.name not in ("running", "estimated_wh")),
    Column("energy_cost", "What the energy cost us", "currency"),
    Column("surplus", "Income without VAT less the energy's cost", "currency"),
)
NOTES = (
    "A guest is whoever was let in without being a member. A session counts in whole when it ended in the "
    "period.",
)


class By(StrEnum):
    """What there is a row for."""

    CHARGER = "charger"
    DAY = "day"
    MONTH = "month"


async def _run(central: Central, asked: Asked) -> Report:
    by, site, zone = By(asked.values["by"]), asked.site, ZoneInfo(asked.site.time_zone)
    price = asked.number("energy_price")
    async with central.database.read() as connection:
        found, refused = await _sums(connection, asked.site.id, asked.period, site.currency)
        called = await names(connection, site.id, Of.STATION)
    edges = [asked.period.start, *(months if by is By.MONTH else days)(asked.period, zone)]
    rows: dict[tuple[str, str, str], Sums] = {}
    for (station_id, quarter, currency), sums in found.items():
        if by is By.CHARGER:
            key, name = station_id, called.get(station_id, station_id)
        else:
            begin = [edges[0], *(edge for edge in edges if edge.timestamp() <= quarter * 900)][-1]
            local = begin.astimezone(zone)
            key = name = f"{local:%Y-%m}" if by is By.MONTH else f"{local:%Y-%m-%d}"
        rows.setdefault((key, name, currency), Sums()).add(sums)
    totals: dict[str, Sums] = {} if rows else {site.currency: Sums()}
    whole = Sums()
    for (_, _, currency), sums in rows.items():
        totals.setdefault(currency, Sums()).add(sums)
        whole.add(sums)
    ordered = sorted(rows.items(), key=lambda each: (natural(each[0][1]), each[0]))
    notes = [*NOTES, *notes_of(whole)]
    if price is None:
        notes.append("No price of the energy was given, so there is no surplus: give energy_price.")
    unknown: tuple[Row, ...] = ()
    if refused.sessions:
        unknown = (_row("", "Refused or unknown tokens that drew energy", site.currency, refused, price),)
        notes.append("Energy of refused or unknown tokens is in no sum; look at those sessions.")
    return Report(
        id=ID,
        title=f"{TITLE} by {by}",
        about=asked.about,
        columns=COLUMNS,
        items=tuple(_row(key, name, currency, sums, price) for (key, name, currency), sums in ordered),
        unknown=unknown,
        totals=tuple(_row("", "Total", currency, totals[currency], price) for currency in sorted(totals)),
        notes=tuple(notes),
        chart=Bars(
            TITLE,
            f"{site.currency} with VAT",
            tuple(name for (_, name, _), _ in ordered),
            (("Income", tuple(sums.incl / 10 ** Currency(site.currency).exponent for _, sums in ordered)),),
        ),
    )


async def _sums(
    connection: AsyncConnection, site_id: str, period: Period, site_currency: str
) -> tuple[dict[tuple[str, int, str], Sums], Sums]:
    """By charger, quarter of an hour of the end (which no local midnight cuts) and currency."""
    quarter = (epoch(sessions.c.ended_at) // 900).label("quarter")
    accepted = sessions.c.verdict.in_(("", Verdict.ACCEPTED.value))
    unpriced = sessions.c.cost_excl_minor.is_(None)
    query = (
        select(
            sessions.c.station_id,
            quarter,
            func.coalesce(sessions.c.currency, site_currency).label("tender"),
            accepted.label("accepted"),
            func.count().label("sessions"),
            func.sum(sessions.c.energy_wh).label("energy_wh"),
            func.sum(func.coalesce(sessions.c.cost_excl_minor, 0)).label("excl"),
            func.sum(func.coalesce(sessions.c.cost_incl_minor, sessions.c.cost_excl_minor, 0)).label("incl"),
            func.sum(case((unpriced, 1), else_=0)).label("unpriced"),
            func.sum(
                case(
                    (and_(sessions.c.cost_incl_minor.is_(None), sessions.c.cost_excl_minor.is_not(None)), 1),
                    else_=0,
                )
            ).label("vat_unknown"),
            func.sum(case((sessions.c.marks != {}, 1), else_=0)).label("marked"),
        )
        .where(sessions.c.site_id == site_id, sessions.c.member_id.is_(None))
        .where(sessions.c.ended_at >= period.start, sessions.c.ended_at < period.end)
        .where(or_(accepted, sessions.c.energy_wh > 0))
        .group_by(sessions.c.station_id, "quarter", "tender", "accepted")
    )
    found: dict[tuple[str, int, str], Sums] = {}
    refused = Sums()
    for row in await connection.execute(query):
        sums = Sums(
            sessions=row.sessions,
            energy_wh=int(row.energy_wh),
            excl=int(row.excl),
            incl=int(row.incl),
            unpriced=row.unpriced,
            vat_unknown=row.vat_unknown,
            marked=row.marked,
        )
        if row.accepted:
            found.setdefault((row.station_id, row.quarter, row.tender), Sums()).add(sums)
        else:
            refused.add(sums)
    return found, refused


def _row(key: str, name: str, currency: str, sums: Sums, price: Decimal | None) -> Row:
    row: dict[str, Cell] = sums.row(key, name, currency)
    for gone in ("running", "estimated_wh"):
        del row[gone]
    cost = None
    if price is not None:
        digits = Decimal(1).scaleb(-Currency(currency).exponent)
        cost = (Decimal(sums.energy_wh) / 1000 * price).quantize(digits, ROUND_HALF_UP)
    excl = Decimal(sums.excl).scaleb(-Currency(currency).exponent)
    return {**row, "energy_cost": cost, "surplus": None if cost is None else excl - cost}


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="What people who are no members took and paid, and what is left of it after the energy.",
    run=_run,
    columns=COLUMNS,
    parameters=(
        Parameter(
            name="by",
            title="A row for each",
            ask=Ask.CHOICE,
            about="what there is a row for",
            choices=tuple(By),
            default=By.CHARGER,
        ),
        Parameter(
            name="energy_price",
            title="Price of the energy per kWh, without VAT",
            ask=Ask.NUMBER,
            about="what a kWh cost the association, e.g. 0.25; leave it out for income alone",
        ),
    ),
    longest_days=400,
)
