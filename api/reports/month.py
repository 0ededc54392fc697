"""A site's month: who took how much, and what it costs.

Three queries add up in the database, by group and currency: sessions with energy and cost, the time
in which cars drew nothing, and the marks of those sessions that have any. Integers throughout.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, Select, case, func, literal, select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.deps import Central
from api.reports.chart import Bars
from api.reports.kind import Ask, Asked, Parameter, ReportKind
from api.reports.names import NOBODY, Of, names
from api.reports.period import Period, month_of
from api.reports.report import Column, Report, Row
from api.reports.spans import epoch, quiet_s
from api.web.order import natural
from csms.money import Currency, Money
from csms.store.tables.access import member as members
from csms.store.tables.sessions import session as sessions

ID = "month"
TITLE = "Energy and cost of a month"

COLUMNS = (
    Column("id", "Id"),
    Column("name", "Name"),
    Column("sessions", "Sessions"),
    Column("energy_wh", "Energy, Wh", "Wh"),
    Column("connected_s", "Time plugged in, s", "s"),
    Column("charging_s", "Time charging, s", "s"),
    Column("currency", "Currency"),
    Column("cost_excl", "Cost without VAT"),
    Column("vat", "VAT"),
    Column("cost_incl", "Cost with VAT"),
    Column("unpriced", "Sessions without a price"),
    Column("vat_unknown", "Sessions whose VAT is not told"),
    Column("marked", "Sessions with a mark"),
    Column("marks", "Marks"),
)

RULES = (
    "A session is reported, with all its energy and cost, in the month in which it ended (the site's time).",
    "Sessions that have not ended are listed apart, with the energy so far, and are in no sum.",
    "Time charging is time plugged in without pauses, whether the car asked for nothing or we held it back.",
)


class By(StrEnum):
    """What there is a row for."""

    MEMBER = "member"
    TOKEN = "token"  # noqa: S105 (a card, no secret)
    STATION = "station"
    SITE = "site"


_KEYS: Mapping[By, ColumnElement[str | None]] = {
    By.MEMBER: sessions.c.member_id,
    By.TOKEN: sessions.c.token_id,
    By.STATION: sessions.c.station_id,
    By.SITE: sessions.c.site_id,
}


@dataclass(slots=True)
class _Sums:
    """What is added up; amounts in minor units."""

    sessions: int = 0
    energy_wh: int = 0
    connected_s: int = 0
    quiet_s: int = 0
    excl: int = 0
    incl: int = 0
    unpriced: int = 0
    vat_unknown: int = 0
    marked: int = 0
    marks: Counter[str] = field(default_factory=Counter)

    def add(self, other: "_Sums") -> None:
        for name in self.__dataclass_fields__:
            if name != "marks":
                setattr(self, name, getattr(self, name) + getattr(other, name))
        self.marks += other.marks


_Group = tuple[str | None, str]
"""The key of a row (None: nobody's) and the currency."""


async def month_report(central: Central, site_id: str, month: str, by: str = By.MEMBER) -> Report:
    """The report of `month` (2026-11) at a site. Raises NotFound, InvalidInput (`month`, `by`)."""
    site = await central.sites.get_site(site_id)
    period = month_of(month, ZoneInfo(site.time_zone))
    made = await _run(central, KIND.asked(site, period, {"by": by}))
    return made.of_month(month)


async def _run(central: Central, asked: Asked) -> Report:
    site, period, by = asked.site, asked.period, By(asked.values["by"])
    site_id = site.id
    async with central.database.read() as connection:
        groups = await _sums(connection, site_id, site.currency, period, by)
        called = await _names(connection, site_id, by, {key for key, _ in groups if key is not None})
        running = await _open(connection, site_id, period)
    if by is By.SITE:
        called[site_id] = site.name
    if by.value in NOBODY and not any(key is None for key, _ in groups):
        groups[None, site.currency] = _Sums()
    totals: dict[str, _Sums] = {} if groups else {site.currency: _Sums()}
    for (_, currency), sums in groups.items():
        totals.setdefault(currency, _Sums()).add(sums)
    rows = [
        (key, _row(key or "", called.get(key, "") if key else NOBODY[Of(by.value)], currency, sums))
        for (key, currency), sums in groups.items()
    ]
    rows.sort(key=lambda row: (natural(str(row[1]["name"])), row[0] or "", str(row[1]["currency"])))
    return Report(
        id=ID,
        title=TITLE,
        about=asked.about,
        columns=COLUMNS,
        items=tuple(row for key, row in rows if key is not None),
        unknown=tuple(row for key, row in rows if key is None),
        totals=tuple(_row("", "Total", currency, totals[currency]) for currency in sorted(totals)),
        open=running,
        notes=_notes(central.clock.now(), period, totals.values()),
        chart=Bars(
            TITLE,
            "kWh",
            tuple(str(row["name"]) for _, row in rows),
            (("Energy", tuple(int(str(row["energy_wh"])) / 1000 for _, row in rows)),),
        ),
    )


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="Whole sessions by the month in which they ended: who took how much, and what it costs.",
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
)


def _row(key: str, name: str, currency: str, sums: _Sums) -> Row:
    kind = Currency(currency)
    return {
        "id": key,
        "name": name,
        "sessions": sums.sessions,
        "energy_wh": sums.energy_wh,
        "connected_s": sums.connected_s,
        "charging_s": sums.connected_s - sums.quiet_s,
        "currency": currency,
        "cost_excl": Money(sums.excl, kind).to_decimal(),
        "vat": Money(sums.incl - sums.excl, kind).to_decimal(),
        "cost_incl": Money(sums.incl, kind).to_decimal(),
        "unpriced": sums.unpriced,
        "vat_unknown": sums.vat_unknown,
        "marked": sums.marked,
        "marks": dict(sorted(sums.marks.items())),
    }


def _notes(now: datetime, period: Period, totals: Iterable[_Sums]) -> tuple[str, ...]:
    whole = _Sums()
    for sums in totals:
        whole.add(sums)
    notes = list(RULES)
    if now < period.end:
        notes.append("The period is not over; these are the figures so far.")
    if whole.unpriced:
        notes.append(f"Sessions without a price: {whole.unpriced}. Their cost is counted as nothing.")
    if whole.vat_unknown:
        notes.append(
            f"Sessions whose tariff does not tell the VAT: {whole.vat_unknown}. It is counted as nothing."
        )
    if whole.marked:
        notes.append(f"Marked sessions: {whole.marked}. Look at them before you bill.")
    return tuple(notes)


async def _sums(
    connection: AsyncConnection, site_id: str, site_currency: str, period: Period, by: By
) -> dict[_Group, _Sums]:
    def of_month(*columns: ColumnElement[Any]) -> Select[Any]:
        return (
            select(
                _KEYS[by].label("owner"),
                func.coalesce(sessions.c.currency, literal(site_currency)).label("tender"),
                *columns,
            )
            .where(sessions.c.site_id == site_id)
            .where(sessions.c.ended_at >= period.start, sessions.c.ended_at < period.end)
        )

    found: defaultdict[_Group, _Sums] = defaultdict(_Sums)
    unpriced = sessions.c.cost_excl_minor.is_(None)
    vat_unknown = sessions.c.cost_incl_minor.is_(None) & ~unpriced
    totals = of_month(
        func.count().label("sessions"),
        func.sum(sessions.c.energy_wh).label("energy_wh"),
        func.sum(epoch(sessions.c.ended_at) - epoch(sessions.c.started_at)).label("connected_s"),
        func.sum(func.coalesce(sessions.c.cost_excl_minor, 0)).label("excl"),
        func.sum(func.coalesce(sessions.c.cost_incl_minor, sessions.c.cost_excl_minor, 0)).label("incl"),
        func.sum(case((unpriced, 1), else_=0)).label("unpriced"),
        func.sum(case((vat_unknown, 1), else_=0)).label("vat_unknown"),
    ).group_by("owner", "tender")
    for row in await connection.execute(totals):
        found[row.owner, row.tender].add(
            _Sums(
                sessions=row.sessions,
                energy_wh=int(row.energy_wh),
                connected_s=int(row.connected_s),
                excl=int(row.excl),
                incl=int(row.incl),
                unpriced=row.unpriced,
                vat_unknown=row.vat_unknown,
            )
        )
    quiet = quiet_s(of_month(), ("owner", "tender"), epoch(sessions.c.started_at), epoch(sessions.c.ended_at))
    for row in await connection.execute(quiet):
        found[row.owner, row.tender].add(_Sums(quiet_s=int(row.quiet_s)))
    for row in await connection.execute(of_month(sessions.c.marks).where(sessions.c.marks != {})):
        found[row.owner, row.tender].add(_Sums(marked=1, marks=Counter(list(row.marks))))
    return dict(found)


async def _names(connection: AsyncConnection, site_id: str, by: By, keys: set[str]) -> dict[str, str]:
    """What people call the rows."""
    found = {} if by is By.SITE else await names(connection, site_id, Of(by.value))
    return {key: found.get(key, key) for key in keys}


async def _open(connection: AsyncConnection, site_id: str, period: Period) -> tuple[Row, ...]:
    """Sessions that began before the month's end and have not ended."""
    query = (
        select(
            sessions.c.id,
            sessions.c.station_id,
            sessions.c.evse,
            sessions.c.member_id,
            sessions.c.started_at,
            sessions.c.energy_wh,
            members.c.name,
        )
        .outerjoin(members, members.c.id == sessions.c.member_id)
        .where(sessions.c.site_id == site_id, sessions.c.ended_at.is_(None))
        .where(sessions.c.started_at < period.end)
        .order_by(sessions.c.id)
    )
    return tuple(
        {
            "id": str(row.id),
            "name": f"{row.station_id}, {row.name or NOBODY[Of.MEMBER].lower()}",
            "sessions": 1,
            "energy_wh": row.energy_wh,
            "station_id": row.station_id,
            "evse": row.evse,
            "member_id": row.member_id,
            "started_at": row.started_at.isoformat(),
        }
        for row in await connection.execute(query)
    )
