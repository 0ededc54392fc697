"""What an employer pays back for company cars: each session with its registers, at one rate per kWh."""

from collections import defaultdict
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.deps import Central
from api.reports.chart import Bars
from api.reports.kind import Ask, Asked, Parameter, ReportKind
from api.reports.report import Cell, Column, Report, Row
from api.web.order import natural
from csms.errors import NotFound
from csms.metering.signed.proof import Result
from csms.money import Currency
from csms.store.tables.access import member as members
from csms.store.tables.metering import signed_proof as proofs
from csms.store.tables.sessions import session as sessions

ID = "reimbursement"
TITLE = "Reimbursement of company cars"
COLUMNS = (
    Column("id", "Session"),
    Column("name", "Member"),
    Column("member_id", "Member's id"),
    Column("station_id", "Charger"),
    Column("evse", "EVSE"),
    Column("token", "Token"),
    Column("started_at", "Began (UTC)"),
    Column("ended_at", "Ended (UTC)"),
    Column("register_start_wh", "Register at the start, Wh", "Wh"),
    Column("register_stop_wh", "Register at the end, Wh", "Wh"),
    Column("energy_wh", "Energy, Wh", "Wh"),
    Column("rate", "Rate per kWh", "currency/kWh"),
    Column("amount", "Amount", "currency"),
    Column("currency", "Currency"),
    Column("signed", "Signed meter data"),
    Column("marks", "Marks"),
)
NOTES = (
    "A session counts in whole when it ended in the period. A member's amount is the energy of all sessions "
    "at the rate, rounded once; the amounts of single sessions may differ from it by rounding.",
    "Signed meter data: proven means that begin and end are signed by a confirmed key of the meter and agree "
    "with the registers.",
)


async def _run(central: Central, asked: Asked) -> Report:
    rate = asked.number("rate")
    assert rate is not None
    currency = Currency(asked.site.currency)
    member_id = asked.values.get("member")
    if member_id is not None and (await central.members.get(member_id)).site_id != asked.site.id:
        raise NotFound("member of this site", member_id)
    async with central.database.read() as connection:
        found = await _sessions(connection, asked, member_id)
    by_member: defaultdict[tuple[str, str], list[Any]] = defaultdict(list)
    for row in found:
        by_member[row.name, row.member_id].append(row)
    ordered = dict(sorted(by_member.items(), key=lambda each: (natural(each[0][0]), each[0][1])))
    totals = [_total(name, key, rows, rate, currency) for (name, key), rows in ordered.items()]
    marked = sum(1 for row in found if row.marks)
    notes = list(NOTES)
    if marked:
        notes.append(f"Marked sessions: {marked}. Look at them before you pay.")
    differing = sum(1 for row in found if _differs(row))
    if differing:
        notes.append(
            f"Sessions whose energy is not the difference of their registers: {differing} (a reset, a jump "
            "or a missing register); their marks say why."
        )
    return Report(
        id=ID,
        title=TITLE,
        about=asked.about,
        columns=COLUMNS,
        items=tuple(_row(row, rate, currency) for rows in ordered.values() for row in rows),
        unknown=(),
        totals=tuple(totals),
        notes=tuple(notes),
        chart=Bars(
            TITLE,
            str(currency),
            tuple(str(row["name"]) for row in totals),
            (("Amount", tuple(float(str(row["amount"])) for row in totals)),),
        ),
    )


async def _sessions(connection: AsyncConnection, asked: Asked, member_id: str | None) -> Sequence[Any]:
    query = (
        select(
            sessions.c.id,
            sessions.c.station_id,
            sessions.c.evse,
            sessions.c.token_text,
            sessions.c.member_id,
            sessions.c.started_at,
            sessions.c.ended_at,
            sessions.c.register_start_wh,
            sessions.c.register_stop_wh,
            sessions.c.energy_wh,
            sessions.c.marks,
            members.c.name,
            proofs.c.result,
        )
        .join(members, members.c.id == sessions.c.member_id)
        .outerjoin(proofs, proofs.c.session_id == sessions.c.id)
        .where(sessions.c.site_id == asked.site.id, sessions.c.energy_wh > 0)
        .where(sessions.c.ended_at >= asked.period.start, sessions.c.ended_at < asked.period.end)
        .order_by(members.c.name, sessions.c.ended_at, sessions.c.id)
    )
    if member_id is not None:
        query = query.where(sessions.c.member_id == member_id)
    return (await connection.execute(query)).all()


def _differs(row: Any) -> bool:
    if row.register_start_wh is None or row.register_stop_wh is None:
        return True
    return bool(row.register_stop_wh - row.register_start_wh != row.energy_wh)


def _amount(energy_wh: int, rate: Decimal, currency: Currency) -> Decimal:
    digits = Decimal(1).scaleb(-currency.exponent)
    return (Decimal(energy_wh) / 1000 * rate).quantize(digits, ROUND_HALF_UP)


def _row(row: Any, rate: Decimal, currency: Currency) -> Row:
    made: dict[str, Cell] = {
        "id": f"{row.id}",
        "name": row.name,
        "member_id": row.member_id,
        "station_id": row.station_id,
        "evse": row.evse,
        "token": row.token_text,
        "started_at": row.started_at.isoformat(),
        "ended_at": row.ended_at.isoformat(),
        "register_start_wh": row.register_start_wh,
        "register_stop_wh": row.register_stop_wh,
        "energy_wh": row.energy_wh,
        "rate": rate,
        "amount": _amount(row.energy_wh, rate, currency),
        "currency": str(currency),
        "signed": row.result or Result.NONE.value,
        "marks": " ".join(sorted(row.marks)),
    }
    return made


def _total(name: str, member_id: str, rows: Sequence[Any], rate: Decimal, currency: Currency) -> Row:
    energy_wh = sum(row.energy_wh for row in rows)
    return {
        "id": f"{len(rows)} sessions",
        "name": name,
        "member_id": member_id,
        "energy_wh": energy_wh,
        "rate": rate,
        "amount": _amount(energy_wh, rate, currency),
        "currency": str(currency),
    }


KIND = ReportKind(
    id=ID,
    title=TITLE,
    about="For each member the sessions with registers, and the energy at the rate that the employer pays.",
    run=_run,
    columns=COLUMNS,
    parameters=(
        Parameter(
            name="rate",
            title="Rate per kWh",
            ask=Ask.NUMBER,
            about="what is paid back for a kWh, in the site's currency, e.g. 0.30",
            required=True,
        ),
        Parameter(
            name="member",
            title="Member",
            ask=Ask.MEMBER,
            about="the id of one member; leave it out for all",
        ),
    ),
    longest_days=400,
)
