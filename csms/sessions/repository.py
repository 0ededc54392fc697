"""Rows of sessions, their pauses, and steps that fit nowhere."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import Row, bindparam, delete, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.verdict.decide import Running
from csms.errors import NotFound
from csms.sessions.live import Live, Standing
from csms.sessions.pauses import Pause
from csms.sessions.session import OPEN, Session, State
from csms.stations.model import ChargingState, StopReason
from csms.store.dialects import upsert
from csms.store.group_commit import Change
from csms.store.tables.sessions import orphan_step
from csms.store.tables.sessions import session as sessions
from csms.store.tables.sessions import session_pause as pauses
from csms.store.tables.stations import evse as evses
from csms.store.tables.stations import station as stations

_OPEN = [state.value for state in OPEN]
_SET_BY_PRICING = ("tariff_id", "currency", "cost_excl_minor", "cost_incl_minor", "cost_lines")

_MEASURED = (
    update(sessions)
    .where(sessions.c.id == bindparam("of_session"))
    .values(
        energy_wh=bindparam("now_energy_wh"),
        register_last_wh=bindparam("now_register_wh"),
        register_last_at=bindparam("now_register_at"),
        last_sequence=bindparam("now_sequence"),
    )
)


def measured(live: Live, standing: Standing) -> Change:
    """Where a running session's meter stands, for the group commit."""
    meter = standing.meter
    return Change(
        _MEASURED,
        {
            "of_session": live.session_id,
            "now_energy_wh": meter.energy_wh,
            "now_register_wh": meter.last_wh,
            "now_register_at": meter.last_at,
            "now_sequence": standing.last_sequence,
        },
    )


async def station_facts(connection: AsyncConnection, station_id: str) -> tuple[str | None, float] | None:
    """The site of a station and its largest current per line in A."""
    query = select(stations.c.site_id, stations.c.max_current_ma).where(stations.c.id == station_id)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else (row.site_id, row.max_current_ma / 1000)


async def only_evse(connection: AsyncConnection, station_id: str) -> int | None:
    """The number of a station's EVSE if it is known to have just one."""
    query = select(evses.c.number).where(evses.c.station_id == station_id, evses.c.number > 0).distinct()
    numbers = [row.number for row in await connection.execute(query.limit(2))]
    return numbers[0] if len(numbers) == 1 else None


async def insert_session(connection: AsyncConnection, new: Session) -> int:
    """The id that the database gave it."""
    values = _values(new)
    statement = insert(sessions).values(values).returning(sessions.c.id)
    return int((await connection.execute(statement)).scalar_one())


async def delete_session(connection: AsyncConnection, session_id: int) -> None:
    """Undo an insert of the same transaction."""
    await connection.execute(delete(sessions).where(sessions.c.id == session_id))


async def update_session(connection: AsyncConnection, changed: Session) -> None:
    """All but the cost, which is set by `set_cost`."""
    values = {name: value for name, value in _values(changed).items() if name not in _SET_BY_PRICING}
    await connection.execute(update(sessions).where(sessions.c.id == changed.id).values(values))


async def set_cost(connection: AsyncConnection, session_id: int, cost: dict[str, Any]) -> bool:
    """False when there is no such session."""
    done = await connection.execute(update(sessions).where(sessions.c.id == session_id).values(cost))
    return done.rowcount == 1


async def get_session(connection: AsyncConnection, session_id: int, *, lock: bool = False) -> Session:
    """Raises NotFound."""
    query = select(sessions).where(sessions.c.id == session_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("session", session_id)
    return session_of(row)


async def by_transaction(connection: AsyncConnection, station_id: str, text: str) -> Session | None:
    query = select(sessions).where(sessions.c.station_id == station_id, sessions.c.transaction_id == text)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else session_of(row)


async def by_start_key(connection: AsyncConnection, station_id: str, key: str) -> Session | None:
    query = select(sessions).where(sessions.c.station_id == station_id, sessions.c.start_key == key)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else session_of(row)


async def ended_alike(
    connection: AsyncConnection, station_id: str, at: datetime, register_wh: int | None
) -> Session | None:
    """A session of the station that a stop with these words has ended already."""
    query = select(sessions).where(
        sessions.c.station_id == station_id,
        sessions.c.state == State.ENDED.value,
        sessions.c.ended_at == at,
        sessions.c.register_stop_wh.is_not_distinct_from(register_wh),
    )
    row = (await connection.execute(query.limit(1))).one_or_none()
    return None if row is None else session_of(row)


async def is_foreign(connection: AsyncConnection, station_id: str, text: str) -> bool:
    """Whether another station has a session with this transaction id that we gave it."""
    if not (text.isascii() and text.isdigit() and len(text) <= 18):
        return False
    query = select(sessions.c.id).where(
        sessions.c.id == int(text), sessions.c.transaction_id == text, sessions.c.station_id != station_id
    )
    return (await connection.execute(query)).first() is not None


async def not_ended(connection: AsyncConnection, station_id: str, most: int = 50) -> tuple[Session, ...]:
    """Sessions of a station whose stop has not come, the latest first, open or assumed to be over."""
    query = select(sessions).where(
        sessions.c.station_id == station_id, sessions.c.state.in_([*_OPEN, State.CLOSED.value])
    )
    rows = await connection.execute(query.order_by(sessions.c.id.desc()).limit(most))
    return tuple(session_of(row) for row in rows)


async def open_at(connection: AsyncConnection, station_id: str) -> tuple[Session, ...]:
    query = select(sessions).where(sessions.c.station_id == station_id, sessions.c.state.in_(_OPEN))
    return tuple(session_of(row) for row in await connection.execute(query.order_by(sessions.c.id)))


async def running_with(connection: AsyncConnection, folded: str, but: int | None) -> tuple[Running, ...]:
    """Open sessions of a token, without the session `but`."""
    if not folded:
        return ()
    query = select(
        sessions.c.id,
        sessions.c.station_id,
        sessions.c.evse,
        sessions.c.started_at,
        sessions.c.arrived_at,
        sessions.c.register_last_at,
    ).where(sessions.c.token_folded == folded, sessions.c.state.in_(_OPEN))
    # A session whose token was refused is no charge.
    query = query.where(sessions.c.verdict == "accepted")
    return tuple(
        Running(
            row.id,
            row.station_id,
            row.evse,
            row.started_at,
            max(row.arrived_at, row.register_last_at or row.arrived_at),
        )
        for row in await connection.execute(query)
        if row.id != but
    )


async def pauses_of(connection: AsyncConnection, session_id: int, *, running: bool) -> tuple[Pause, ...]:
    """The pauses of a session in order; with `running` those that go on."""
    query = select(pauses).where(pauses.c.session_id == session_id)
    if running:
        query = query.where(pauses.c.to_at.is_(None))
    rows = await connection.execute(query.order_by(pauses.c.from_at, pauses.c.by_us))
    return tuple(Pause(row.from_at, row.to_at, row.by_us) for row in rows)


async def keep_pauses(
    connection: AsyncConnection, dialect: str, session_id: int, changed: Iterable[Pause]
) -> None:
    """Write pauses that begin or end."""
    for pause in changed:
        row = {
            "session_id": session_id,
            "from_at": pause.from_at,
            "to_at": pause.to_at,
            "by_us": pause.by_us,
        }
        statement = upsert(dialect, pauses).values(row)
        await connection.execute(
            statement.on_conflict_do_update(
                index_elements=[pauses.c.session_id, pauses.c.from_at, pauses.c.by_us],
                set_={"to_at": pause.to_at},
            )
        )


async def add_orphan(
    connection: AsyncConnection,
    station_id: str,
    at: datetime,
    now: datetime,
    reason: str,
    body: dict[str, Any],
) -> bool:
    """False when the very same is there already."""
    same = select(orphan_step.c.body).where(orphan_step.c.station_id == station_id, orphan_step.c.at == at)
    if any(row.body == body for row in await connection.execute(same)):
        return False
    row = {"station_id": station_id, "at": at, "arrived_at": now, "reason": reason[:255], "body": body}
    await connection.execute(insert(orphan_step).values(row))
    return True


def session_of(row: Row[Any]) -> Session:
    """The session of a row of its table."""
    values = dict(row._mapping)
    values["state"] = State(values["state"])
    values["charging"] = ChargingState(values["charging"])
    values["stop_reason"] = None if values["stop_reason"] is None else StopReason(values["stop_reason"])
    return Session(**values)


def _values(session: Session) -> dict[str, Any]:
    values = {name: value for name, value in asdict(session).items() if name != "id"}
    values["state"] = session.state.value
    values["charging"] = session.charging.value
    values["stop_reason"] = None if session.stop_reason is None else session.stop_reason.value
    values["marks"] = dict(session.marks)
    return values
