"""Rows of signed records, on both databases."""

from decimal import Decimal

from csms.clock import ManualClock
from csms.metering.signed import repository
from csms.metering.signed.proof import Proof, Result
from csms.metering.signed.verdict import Judgement, Verdict
from csms.stations.model import Reading, ReadingContext
from csms.stations.signed import SignedValue
from csms.store.database import Database

VALUE = SignedValue("7b", "OCMF|{}|{}", "OCMF", "ECDSA", "key")


def told(clock: ManualClock, *values: SignedValue) -> Reading:
    return Reading(at=clock.now(), context=ReadingContext.END, signed=values)


async def test_a_record_is_kept_verbatim_and_once_per_session(database: Database, clock: ManualClock) -> None:
    for session_id in (7, 7, 8):
        reading = told(clock, VALUE, SignedValue("x\0", "x\0"))
        changes = repository.changes(database.dialect, "YARD-01", 1, session_id, reading)
        await database.writer.add(*changes)
    async with database.write() as connection:
        await repository.add(connection, database.dialect, "YARD-01", None, 7, told(clock, VALUE))
    async with database.read() as connection:
        first, odd = await repository.of_session(connection, 7)
        assert await repository.elsewhere(connection, 7, [first.digest, "none"]) == {first.digest}
        assert [each.session_id for each in await repository.pending(connection, 3)] == [7, 7, 8]
    assert first.value == VALUE
    assert (first.station_id, first.evse, first.at, first.context) == ("YARD-01", 1, clock.now(), "end")
    assert (first.verdict, first.reasons, first.serial) == (Verdict.PENDING, (), None)
    assert "\0" not in odd.value.received


async def test_verdicts_are_kept_and_taken_back(database: Database, clock: ManualClock) -> None:
    await database.writer.add(
        *repository.changes(database.dialect, "YARD-01", 1, 7, told(clock, VALUE, SignedValue("", "other")))
    )
    async with database.write() as connection:
        one, other = await repository.pending(connection, 9)
        judged = [
            (one, "LOOM", Judgement(Verdict.VERIFIED, ("yes",), "key_1")),
            (other, None, Judgement(Verdict.MALFORMED, ("no",))),
        ]
        await repository.set_judgement(connection, judged, clock.now())
        await repository.set_judgement(connection, [], clock.now())
        assert await repository.pending(connection, 9) == ()
        kept = (await repository.of_session(connection, 7))[0]
        assert (kept.verdict, kept.reasons, kept.serial, kept.key_id, kept.judged_at) == (
            *(Verdict.VERIFIED, ("yes",), "LOOM", "key_1"),
            clock.now(),
        )
        assert await repository.look_again(connection, "LOOM") == 1
        assert [each.id for each in await repository.pending(connection, 9)] == [one.id]


async def test_proofs_of_many_sessions_are_few_queries(database: Database, clock: ManualClock) -> None:
    proof = Proof(Result.PROVEN, ("whole",), Decimal("7360.125"), "LOOM")
    async with database.write() as connection:
        for found in (Proof(Result.PENDING, ()), proof):
            await repository.keep_proof(connection, database.dialect, 7, found, clock.now())
        assert await repository.proofs_of(connection, range(2500)) == {7: proof}
