"""Judges signed records after they are kept, and says what a session's records prove.

The rows that were not looked at are the queue: nothing is lost with the process, and a station is
answered before anybody verifies anything.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable, Mapping, Sequence
from datetime import datetime

from csms.clock import Clock
from csms.errors import InvalidInput
from csms.ids import new_id
from csms.metering.signed import repository
from csms.metering.signed.keys import repository as keys_repository
from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.proof import Billed, Judged, Proof, Result, prove
from csms.metering.signed.public_key import PublicKey, read_key
from csms.metering.signed.record import Record
from csms.metering.signed.stored import SignedSession, StoredRecord
from csms.metering.signed.verdict import Judgement, Verdict, judge, read
from csms.stations.events import MetersReported
from csms.stations.questions import TransactionReported
from csms.store.database import Database
from csms.store.outbox import Fact
from csms.tasks import Tasks

log = logging.getLogger(__name__)

AT_ONCE = 50
MOST_FOUND = 10
"""Unconfirmed keys kept of one meter: more only come from somebody who makes them up."""
LOOK_S = 30.0
"""How often to look without being woken: another node, or we before a restart, may have left some."""
NO_DATA = Proof(Result.NONE, ("The session has no signed data.",))

BilledOf = Callable[[int], Awaitable[Billed | None]]


class SignedDataService:
    """`billed_of` tells what is billed of a session; None when there is no such session."""

    def __init__(self, database: Database, clock: Clock, billed_of: BilledOf) -> None:
        self._database = database
        self._clock = clock
        self._billed_of = billed_of
        self._wake = asyncio.Event()

    def start(self, tasks: Tasks) -> None:
        """Judge what comes, from now on."""
        tasks.spawn(self._loop(), "signed meter data")

    def wake(self) -> None:
        """There may be something to judge."""
        self._wake.set()

    async def station_told(
        self, _station_id: str, event: MetersReported | TransactionReported, _now: datetime
    ) -> None:
        """Follower of what stations tell, after the commit."""
        if any(reading.signed for reading in event.readings):
            self._wake.set()

    async def session_fact(self, _number: int, fact: Fact) -> None:
        """A session has ended or was corrected: its registers are others now (follower of the outbox)."""
        if fact.subject.isdigit():
            await self._prove([int(fact.subject)])

    async def of_session(self, session_id: int) -> SignedSession:
        """A session's records and what they prove."""
        async with self._database.read() as connection:
            records = await repository.of_session(connection, session_id)
            proofs = await repository.proofs_of(connection, [session_id])
        waiting = Proof(Result.PENDING, ("Not all records were looked at yet.",)) if records else NO_DATA
        return SignedSession(proofs.get(session_id, waiting), records)

    async def results(self, session_ids: Sequence[int]) -> Mapping[int, Proof]:
        """What the records of each of those sessions prove; one without signed data says NONE."""
        async with self._database.read() as connection:
            found = await repository.proofs_of(connection, session_ids)
        return {session_id: found.get(session_id, NO_DATA) for session_id in session_ids}

    async def judge_pending(self) -> int:
        """Judge a batch of what waits; how many they were."""
        async with self._database.read() as connection:
            waiting = await repository.pending(connection, AT_ONCE)
            readings = [(each, _read(each)) for each in waiting]
            serials = {found.serial for _, found in readings if isinstance(found, Record)}
            keys = await keys_repository.of_serials(connection, serials)
        if not waiting:
            return 0
        now = self._clock.now()
        judged: list[tuple[StoredRecord, str | None, Judgement]] = []
        found_keys: list[MeterKey] = []
        for each, found in readings:
            await asyncio.sleep(0)  # verifying takes its time; stations go first
            if isinstance(found, Judgement):
                judged.append((each, None, found))
                continue
            told, unread = _told_key(each)
            judgement = _judged(each, found, keys[found.serial], told)
            if unread:
                judgement = Judgement(judgement.verdict, (*judgement.reasons, unread), judgement.key_id)
            judged.append((each, found.serial, judgement))
            if told is not None and found.serial:
                found_keys.append(_found_key(found.serial, told, each.station_id, now))
        async with self._database.write() as connection:
            if await keys_repository.of_serials(connection, serials) != keys:
                return len(waiting)  # somebody has changed a key meanwhile: all of them once more
            await repository.set_judgement(connection, judged, now)
            for key in found_keys:
                await keys_repository.insert_found(connection, self._database.dialect, key, MOST_FOUND)
        await self._prove({each.session_id for each in waiting if each.session_id is not None})
        return len(waiting)

    async def _prove(self, session_ids: Iterable[int]) -> None:
        for session_id in sorted(session_ids):
            try:
                await self._prove_one(session_id)
            except Exception:
                log.exception("what is signed of session %s could not be put together", session_id)

    async def _prove_one(self, session_id: int) -> None:
        async with self._database.read() as connection:
            records = await repository.of_session(connection, session_id)
            digests = [record.digest for record in records]
            shared = await repository.elsewhere(connection, session_id, digests)
        if not records:
            return
        billed = await self._billed_of(session_id)
        if billed is None:
            return
        judged = []
        for record in records:
            found = _read(record)
            judged.append(
                Judged(
                    record.verdict,
                    found if isinstance(found, Record) else None,
                    record.key_id,
                    record.digest in shared,
                )
            )
        proof, now = prove(judged, billed), self._clock.now()
        async with self._database.write() as connection:
            await repository.keep_proof(connection, self._database.dialect, session_id, proof, now)

    async def _loop(self) -> None:
        while True:
            self._wake.clear()
            try:
                while await self.judge_pending():
                    pass
            except Exception:
                log.exception("signed meter data could not be judged; it is tried again")
            try:
                async with asyncio.timeout(LOOK_S):
                    await self._wake.wait()
            except TimeoutError:
                continue


NOT_JUDGED = Judgement(Verdict.MALFORMED, ("It could not be judged; the server's log says why.",))
"""One record that brings out a fault of ours must not hold up all others."""


def _read(record: StoredRecord) -> Record | Judgement:
    try:
        return read(record.value)
    except Exception:
        log.exception("signed record %s could not be read", record.id)
        return NOT_JUDGED


def _judged(
    record: StoredRecord, found: Record, keys: Sequence[MeterKey], told: PublicKey | None
) -> Judgement:
    try:
        return judge(found, keys, told)
    except Exception:
        log.exception("signed record %s could not be judged", record.id)
        return NOT_JUDGED


def _told_key(record: StoredRecord) -> tuple[PublicKey | None, str]:
    """The key that came with the record, and what there is to say when it cannot be read."""
    if not record.value.public_key:
        return None, ""
    try:
        return read_key(record.value.public_key), ""
    except InvalidInput as error:
        return None, f"The key that came with it {error.problem}."


def _found_key(serial: str, key: PublicKey, station_id: str, now: datetime) -> MeterKey:
    return MeterKey(
        id=new_id("key"),
        serial=serial[:64],
        key=key,
        state=KeyState.UNCONFIRMED,
        source=f"came with data of station {station_id}",
        created_at=now,
    )
