"""What a month's statements are made of, read in bulk: no query per session."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Row, and_, func, or_, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.ledger.registers import Neighbour, SessionRow
from csms.ledger.statement import Flag
from csms.metering.series import Flag as Odd
from csms.sessions.pauses import Pause
from csms.sessions.session import Mark, State
from csms.stations.model import Verdict
from csms.store.dialects import whole_seconds
from csms.store.tables.access import member as members
from csms.store.tables.access import membership
from csms.store.tables.access import token as tokens
from csms.store.tables.ledger import member_address as addresses
from csms.store.tables.metering import reading as readings
from csms.store.tables.metering import signed_proof
from csms.store.tables.sessions import session as sessions
from csms.store.tables.sessions import session_pause as pauses
from csms.store.tables.stations import station as stations
from csms.store.tables.tariffs import tariff as tariffs

_ODD = frozenset(flag.value for flag in Odd)
_MANY = 500
_AT_ONCE = 20_000
_SIGNED = {"proven": Flag.SIGNED_VALID, "contradicted": Flag.SIGNED_INVALID}
"""By `csms.metering.signed.proof.Result`."""


_SESSION = (
    sessions.c.id,
    sessions.c.station_id,
    sessions.c.evse,
    sessions.c.token_id,
    sessions.c.token_text,
    sessions.c.member_id,
    sessions.c.verdict,
    whole_seconds(sessions.c.started_at).label("started"),
    whole_seconds(sessions.c.ended_at).label("ended"),
    whole_seconds(sessions.c.arrived_at).label("arrived"),
    sessions.c.register_start_wh,
    sessions.c.register_stop_wh,
    sessions.c.energy_wh,
    sessions.c.marks,
    sessions.c.state,
    sessions.c.tariff_id,
    tariffs.c.name.label("tariff"),
    sessions.c.currency,
    sessions.c.cost_excl_minor,
    sessions.c.cost_incl_minor,
)


def _of(site_id: str, start: datetime, end: datetime) -> ColumnElement[bool]:
    """Sessions of the site with some time from `start` to `end`."""
    return and_(
        sessions.c.site_id == site_id,
        sessions.c.started_at < end,
        or_(sessions.c.ended_at.is_(None), sessions.c.ended_at > start, sessions.c.started_at >= start),
    )


async def sessions_of(
    connection: AsyncConnection, site_id: str, start: datetime, end: datetime
) -> list[SessionRow]:
    """Sessions with some time in [start, end), in order of their ids."""
    query = select(*_SESSION).outerjoin(tariffs, tariffs.c.id == sessions.c.tariff_id)
    rows = await connection.execute(query.where(_of(site_id, start, end)).order_by(sessions.c.id))
    return [_row(row) for row in rows]


async def last_before(connection: AsyncConnection, site_id: str, start: datetime) -> list[SessionRow]:
    """The last session of each charger that was over before `start`."""
    latest = (
        select(sessions.c.station_id, sessions.c.evse, func.max(sessions.c.started_at).label("at"))
        .where(sessions.c.site_id == site_id, sessions.c.ended_at <= start, sessions.c.started_at < start)
        .group_by(sessions.c.station_id, sessions.c.evse)
        .subquery()
    )
    query = (
        select(*_SESSION)
        .outerjoin(tariffs, tariffs.c.id == sessions.c.tariff_id)
        .join(
            latest,
            and_(
                latest.c.station_id == sessions.c.station_id,
                latest.c.evse.is_not_distinct_from(sessions.c.evse),
                latest.c.at == sessions.c.started_at,
            ),
        )
        .where(sessions.c.site_id == site_id)
        .order_by(sessions.c.id)
    )
    return [_row(row) for row in await connection.execute(query)]


async def registers_of(
    connection: AsyncConnection, site_id: str, start: datetime, end: datetime
) -> dict[int, list[tuple[int, int]]]:
    """(instant, register) of all readings of those sessions, in order of time."""
    query = (
        select(readings.c.session_id, whole_seconds(readings.c.at).label("second"), readings.c.register_wh)
        .join(sessions, sessions.c.id == readings.c.session_id)
        .where(_of(site_id, start, end), readings.c.register_wh.is_not(None))
        .order_by(readings.c.session_id, readings.c.at, readings.c.id)
    )
    found: dict[int, list[tuple[int, int]]] = {}
    # By parts: a month of a large garage is a million rows, and the loop has others to serve.
    result = await connection.stream(query, execution_options={"max_row_buffer": _AT_ONCE})
    async for rows in result.partitions(_AT_ONCE):
        for session_id, second, register in rows:
            mine = found.get(session_id)
            if mine is None:
                mine = found[session_id] = []
            mine.append((second, register))
    return found


async def registers_of_few(
    connection: AsyncConnection, session_ids: Sequence[int]
) -> dict[int, list[tuple[int, int]]]:
    """The same for some sessions."""
    found: dict[int, list[tuple[int, int]]] = {}
    for some in _chunks(session_ids):
        query = (
            select(
                readings.c.session_id, whole_seconds(readings.c.at).label("second"), readings.c.register_wh
            )
            .where(readings.c.session_id.in_(some), readings.c.register_wh.is_not(None))
            .order_by(readings.c.session_id, readings.c.at, readings.c.id)
        )
        found |= _by_session((await connection.execute(query)).all())
    return found


async def neighbours_of(
    connection: AsyncConnection, rows: Iterable[SessionRow]
) -> dict[int, list[Neighbour]]:
    """For sessions without a stop: the next session's start, values of the charger, of the station."""
    wanted = list(rows)
    found: dict[int, list[Neighbour]] = {}
    if not wanted:
        return found
    places = sorted({row.station_id for row in wanted})
    since = min(row.started for row in wanted)
    starts: defaultdict[tuple[str, int], list[tuple[int, int | None]]] = defaultdict(list)
    loose: defaultdict[tuple[str, int], list[tuple[int, int]]] = defaultdict(list)
    for some in _chunks(places):
        started = whole_seconds(sessions.c.started_at)
        query = select(
            sessions.c.station_id, sessions.c.evse, started.label("second"), sessions.c.register_start_wh
        ).where(sessions.c.station_id.in_(some), started >= since)
        for row in await connection.execute(query.order_by(sessions.c.started_at)):
            starts[row.station_id, row.evse or 0].append((row.second, row.register_start_wh))
        at = whole_seconds(readings.c.at)
        query = select(
            readings.c.station_id, readings.c.evse, at.label("second"), readings.c.register_wh
        ).where(
            readings.c.station_id.in_(some),
            readings.c.session_id.is_(None),
            readings.c.register_wh.is_not(None),
            at >= since,
        )
        for row in await connection.execute(query.order_by(readings.c.at)):
            loose[row.station_id, row.evse or 0].append((row.second, row.register_wh))
    for each in wanted:
        ended = each.ended or each.started
        place = (each.station_id, each.evse)
        following = next((s for s in starts[place] if s[0] > each.started), None)
        until = following[0] if following else None
        mine = []
        if following is not None and following[1] is not None:
            mine.append(Neighbour("next_session", following[0], following[1]))
        for source, values in (
            ("clock_aligned", loose[place]),
            ("station_total", loose[each.station_id, 0] if each.evse else []),
        ):
            first = next((v for v in values if v[0] >= ended and (until is None or v[0] <= until)), None)
            if first is not None:
                mine.append(Neighbour(source, *first))
        found[each.id] = mine
    return found


async def pauses_of(connection: AsyncConnection, session_ids: Sequence[int]) -> dict[int, list[Pause]]:
    """The pauses of some sessions."""
    found: defaultdict[int, list[Pause]] = defaultdict(list)
    for some in _chunks(session_ids):
        query = select(pauses).where(pauses.c.session_id.in_(some)).order_by(pauses.c.from_at)
        for row in await connection.execute(query):
            found[row.session_id].append(Pause(row.from_at, row.to_at, row.by_us))
    return found


async def signed_of(
    connection: AsyncConnection, site_id: str, start: datetime, end: datetime
) -> dict[int, Flag]:
    """What the signed meter data of those sessions that have any came to."""
    query = select(signed_proof.c.session_id, signed_proof.c.result).join(
        sessions, sessions.c.id == signed_proof.c.session_id
    )
    rows = await connection.execute(query.where(_of(site_id, start, end)))
    return {row.session_id: _SIGNED.get(row.result, Flag.SIGNED_UNCHECKED) for row in rows}


async def stations_of(connection: AsyncConnection, site_id: str) -> dict[str, tuple[str, int]]:
    """Name and largest current (mA) of the site's stations."""
    query = select(stations.c.id, stations.c.name, stations.c.max_current_ma)
    rows = await connection.execute(query.where(stations.c.site_id == site_id))
    return {row.id: (row.name, row.max_current_ma) for row in rows}


async def labels_of(connection: AsyncConnection, site_id: str) -> dict[str, str]:
    """What the site's tokens are called."""
    query = select(tokens.c.id, tokens.c.label, tokens.c.text)
    query = query.join(members, members.c.id == tokens.c.member_id).where(members.c.site_id == site_id)
    return {row.id: row.label or row.text for row in await connection.execute(query)}


async def members_of(connection: AsyncConnection, site_id: str) -> list[Row[Any]]:
    """The site's members with their addresses, in order of their ids."""
    query = (
        select(members.c.id, members.c.name, members.c.email, members.c.active, members.c.created_at)
        .add_columns(addresses.c.lines, addresses.c.language)
        .outerjoin(addresses, addresses.c.member_id == members.c.id)
        .where(members.c.site_id == site_id)
    )
    rows = (await connection.execute(query)).all()
    return sorted(rows, key=lambda row: row.id)


async def groups_of(connection: AsyncConnection, site_id: str) -> dict[str, frozenset[str]]:
    """The groups of each member that is in any."""
    query = select(membership).join(members, members.c.id == membership.c.member_id)
    found: defaultdict[str, set[str]] = defaultdict(set)
    for row in await connection.execute(query.where(members.c.site_id == site_id)):
        found[row.member_id].add(row.group_id)
    return {member: frozenset(groups) for member, groups in found.items()}


async def signature_rows(
    connection: AsyncConnection, site_id: str, start: datetime, end: datetime
) -> list[tuple[Any, ...]]:
    """What of the sessions of a month a statement depends on, one short row each."""
    query = (
        select(
            sessions.c.id,
            sessions.c.energy_wh,
            whole_seconds(sessions.c.started_at),
            whole_seconds(sessions.c.ended_at),
            sessions.c.token_id,
            sessions.c.member_id,
            sessions.c.register_start_wh,
            sessions.c.register_stop_wh,
            sessions.c.tariff_id,
            sessions.c.cost_excl_minor,
            sessions.c.cost_incl_minor,
        )
        .where(_of(site_id, start, end))
        .order_by(sessions.c.id)
    )
    return [tuple(row) for row in await connection.execute(query)]


def _row(row: Row[Any]) -> SessionRow:
    marks = row.marks or {}
    return SessionRow(
        id=row.id,
        station_id=row.station_id,
        evse=row.evse or 0,
        token_id=row.token_id,
        token_text=row.token_text,
        member_id=row.member_id,
        known=row.verdict in ("", Verdict.ACCEPTED.value),
        started=row.started,
        ended=row.ended,
        arrived=row.arrived,
        register_start_wh=row.register_start_wh,
        register_stop_wh=row.register_stop_wh,
        energy_wh=row.energy_wh,
        marked=bool(marks) and not _ODD.isdisjoint(marks),
        start_seen=Mark.NO_START_SEEN.value not in marks,
        stop_seen=row.state == State.ENDED.value,
        tariff_id=row.tariff_id,
        tariff=row.tariff or "",
        currency=row.currency,
        cost_excl_minor=row.cost_excl_minor,
        cost_incl_minor=row.cost_incl_minor,
    )


def _by_session(rows: Iterable[Any]) -> dict[int, list[tuple[int, int]]]:
    found: dict[int, list[tuple[int, int]]] = {}
    last, mine = None, []
    for session_id, second, register in rows:
        if session_id != last:
            last = session_id
            mine = found[session_id] = []
        mine.append((second, register))
    return found


def _chunks(ids: Sequence[Any]) -> Iterable[Sequence[Any]]:
    return (ids[i : i + _MANY] for i in range(0, len(ids), _MANY))
