"""Rows of signed records and of what they prove."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from functools import cache
from typing import Any

from sqlalchemy import Executable, Row, bindparam, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.metering.signed.proof import Proof, Result
from csms.metering.signed.stored import StoredRecord
from csms.metering.signed.verdict import Judgement, Verdict
from csms.stations.model import Reading
from csms.stations.signed import SignedValue
from csms.store.change import Change
from csms.store.dialects import upsert
from csms.store.tables.metering import signed_proof as proofs
from csms.store.tables.metering import signed_record as records

_JUDGED = (
    update(records)
    .where(records.c.id == bindparam("of_record"))
    .values(
        verdict=bindparam("now_verdict"),
        reasons=bindparam("now_reasons"),
        serial=bindparam("now_serial"),
        key_id=bindparam("now_key_id"),
        judged_at=bindparam("now_at"),
    )
)
MILLI = Decimal(1000)


@cache
def _insert(dialect: str) -> Executable:
    """One statement per kind of database, so that the group commit can join equal ones.

    A record that its session has already is left as it is.
    """
    statement: Executable = upsert(dialect, records).on_conflict_do_nothing(
        index_elements=[records.c.session_id, records.c.digest]
    )
    return statement


def changes(
    dialect: str, station_id: str, evse: int | None, session_id: int | None, reading: Reading
) -> list[Change]:
    """The signed records of a reading, for the group commit."""
    return [Change(_insert(dialect), row) for row in _rows(station_id, evse, session_id, reading)]


async def add(
    connection: AsyncConnection,
    dialect: str,
    station_id: str,
    evse: int | None,
    session_id: int | None,
    reading: Reading,
) -> None:
    """The same in an open transaction."""
    await connection.execute(_insert(dialect), _rows(station_id, evse, session_id, reading))


def _rows(
    station_id: str, evse: int | None, session_id: int | None, reading: Reading
) -> list[dict[str, Any]]:
    return [
        {
            "station_id": station_id,
            "evse": evse,
            "session_id": session_id,
            "at": reading.at,
            "context": reading.context.value,
            "received": _kept(value.received),
            "data": _kept(value.data),
            "encoding": value.encoding[:50],
            "signing": value.signing[:50],
            "public_key": value.public_key,
            "digest": hashlib.sha256((value.data or value.received).encode()).hexdigest(),
            "verdict": Verdict.PENDING.value,
        }
        for value in reading.signed
    ]


def _kept(text: str) -> str:
    """PostgreSQL keeps no NUL; a record with one is malformed with it and without it."""
    return text.replace("\x00", "�")


async def pending(connection: AsyncConnection, most: int) -> tuple[StoredRecord, ...]:
    """Records that were not looked at, the oldest first."""
    query = select(records).where(records.c.verdict == Verdict.PENDING.value)
    rows = await connection.execute(query.order_by(records.c.id).limit(most))
    return tuple(map(_stored, rows))


async def of_session(connection: AsyncConnection, session_id: int) -> tuple[StoredRecord, ...]:
    """All of a session, in order of arrival."""
    query = select(records).where(records.c.session_id == session_id).order_by(records.c.id)
    return tuple(map(_stored, await connection.execute(query)))


async def elsewhere(connection: AsyncConnection, session_id: int, digests: Sequence[str]) -> frozenset[str]:
    """Those of `digests` that another session has as well."""
    query = (
        select(records.c.digest)
        .where(records.c.digest.in_(digests), records.c.session_id != session_id)
        .distinct()
    )
    return frozenset(row.digest for row in await connection.execute(query))


async def set_judgement(
    connection: AsyncConnection,
    judged: Iterable[tuple[StoredRecord, str | None, Judgement]],
    now: datetime,
) -> None:
    """What each record, of a meter with that serial number, is worth."""
    rows = [
        {
            "of_record": record.id,
            "now_verdict": judgement.verdict.value,
            "now_reasons": list(judgement.reasons),
            "now_serial": None if serial is None else serial[:64],
            "now_key_id": judgement.key_id,
            "now_at": now,
        }
        for record, serial, judgement in judged
    ]
    if rows:
        await connection.execute(_JUDGED, rows)


async def look_again(connection: AsyncConnection, serial: str) -> int:
    """Records of a meter are to be judged anew; how many."""
    done = await connection.execute(
        update(records).where(records.c.serial == serial).values(verdict=Verdict.PENDING.value)
    )
    return done.rowcount


async def keep_proof(
    connection: AsyncConnection, dialect: str, session_id: int, proof: Proof, now: datetime
) -> None:
    """What a session's records come to."""
    energy_wh = proof.energy_wh
    values = {
        "result": proof.result.value,
        "reasons": list(proof.reasons),
        "energy_mwh": None if energy_wh is None else int((energy_wh * MILLI).to_integral_value()),
        "serial": proof.serial[:64],
        "judged_at": now,
    }
    statement = upsert(dialect, proofs).values(session_id=session_id, **values)
    await connection.execute(
        statement.on_conflict_do_update(index_elements=[proofs.c.session_id], set_=values)
    )


async def proofs_of(connection: AsyncConnection, session_ids: Sequence[int]) -> Mapping[int, Proof]:
    """Of those sessions that have signed data, one query for each thousand."""
    found: dict[int, Proof] = {}
    for start in range(0, len(session_ids), 1000):
        query = select(proofs).where(proofs.c.session_id.in_(session_ids[start : start + 1000]))
        for row in await connection.execute(query):
            energy_wh = None if row.energy_mwh is None else Decimal(row.energy_mwh) / MILLI
            found[row.session_id] = Proof(Result(row.result), tuple(row.reasons), energy_wh, row.serial)
    return found


def _stored(row: Row[Any]) -> StoredRecord:
    return StoredRecord(
        id=row.id,
        station_id=row.station_id,
        evse=row.evse,
        session_id=row.session_id,
        at=row.at,
        context=row.context,
        value=SignedValue(row.received, row.data, row.encoding, row.signing, row.public_key),
        digest=row.digest,
        serial=row.serial,
        verdict=Verdict(row.verdict),
        reasons=tuple(row.reasons or ()),
        key_id=row.key_id,
        judged_at=row.judged_at,
    )
