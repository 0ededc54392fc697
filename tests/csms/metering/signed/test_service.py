"""Signed data from the commit to the proof, on both databases."""

import asyncio
from datetime import timedelta
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.metering.service import ReadingsService
from csms.metering.signed import service
from csms.metering.signed.keys.meter_key import KeyState
from csms.metering.signed.keys.service import MeterKeysService
from csms.metering.signed.proof import Billed, Result
from csms.metering.signed.record import Record
from csms.metering.signed.service import SignedDataService
from csms.metering.signed.verdict import Judgement, Verdict, judge
from csms.stations.events import MetersReported
from csms.stations.model import Reading
from csms.stations.signed import SignedValue
from csms.store.database import Database
from csms.store.outbox import Fact
from csms.tasks import Tasks
from tests.csms.metering.signed.meter import BEGAN, SERIAL, Meter

SESSION = 7


class Books:
    """What is billed, as told by a test."""

    def __init__(self) -> None:
        self.energy_wh = 7_360

    async def billed(self, session_id: int) -> Billed | None:
        if session_id != SESSION:
            return None
        end = BEGAN + timedelta(hours=1)
        return Billed(started_at=BEGAN, ended_at=end, start_wh=None, stop_wh=None, energy_wh=self.energy_wh)


@pytest.fixture
def books() -> Books:
    return Books()


@pytest.fixture
def signed(database: Database, clock: ManualClock, books: Books) -> SignedDataService:
    return SignedDataService(database, clock, books.billed)


@pytest.fixture
def keys(database: Database, clock: ManualClock, signed: SignedDataService) -> MeterKeysService:
    return MeterKeysService(database, clock, signed.wake)


async def arrive(database: Database, *texts: str, session_id: int | None = SESSION, key: str = "") -> None:
    readings = [
        Reading(at=BEGAN + timedelta(hours=n), signed=(SignedValue(text, text, "OCMF", "", key),))
        for n, text in enumerate(texts)
    ]
    changes = ReadingsService(database).changes("YARD-01", 1, session_id, readings)
    await database.writer.add(*changes)


async def settled(signed: SignedDataService) -> None:
    while await signed.judge_pending():
        pass


async def test_a_key_found_with_data_is_confirmed_and_then_proves_it(
    database: Database, signed: SignedDataService, keys: MeterKeysService
) -> None:
    meter = Meter()
    await arrive(database, *meter.charge(), key=meter.key_hex)
    assert (await signed.of_session(SESSION)).proof.result is Result.PENDING
    await settled(signed)
    before = await signed.of_session(SESSION)
    assert before.proof.result is Result.NOT_PROVEN
    assert [each.verdict for each in before.records] == [Verdict.UNKNOWN_KEY] * 2
    assert "proves nothing" in " ".join(before.records[0].reasons)
    (found,) = (await keys.list()).items
    assert (found.serial, found.state, found.source) == (
        *(SERIAL, KeyState.UNCONFIRMED),
        "came with data of station YARD-01",
    )
    await keys.confirm(found.id, "key:board")
    await settled(signed)
    after = await signed.of_session(SESSION)
    assert (after.proof.result, after.proof.serial) == (Result.PROVEN, SERIAL)
    assert after.proof.energy_wh == 7360
    assert {each.key_id for each in after.records} == {found.id}
    results = await signed.results([SESSION, 8])
    assert [results[each].result for each in (SESSION, 8)] == [Result.PROVEN, Result.NONE]
    await keys.revoke(found.id)
    await settled(signed)
    assert (await signed.of_session(SESSION)).proof.result is Result.NOT_PROVEN


async def test_a_changed_record_contradicts(
    database: Database, signed: SignedDataService, keys: MeterKeysService
) -> None:
    meter = Meter()
    await keys.add(serial=SERIAL, public_key=meter.key_hex, by="key:board")
    first, last = meter.charge()
    await arrive(database, first, last.replace("107.36", "117.36"))
    await settled(signed)
    found = await signed.of_session(SESSION)
    assert [each.verdict for each in found.records] == [Verdict.VERIFIED, Verdict.WRONG_SIGNATURE]
    assert found.proof.result is Result.CONTRADICTED


async def test_a_correction_of_the_session_is_proved_anew(
    database: Database, signed: SignedDataService, keys: MeterKeysService, books: Books, clock: ManualClock
) -> None:
    meter = Meter()
    await keys.add(serial=SERIAL, public_key=meter.key_hex, by="key:board")
    await arrive(database, *meter.charge())
    await settled(signed)
    books.energy_wh = 8_000
    fact = Fact(topic="session.corrected", at=clock.now(), subject=str(SESSION))
    await signed.session_fact(1, fact)
    assert (await signed.of_session(SESSION)).proof.result is Result.CONTRADICTED
    await signed.session_fact(2, Fact(topic="session.corrected", at=clock.now(), subject="8"))
    assert (await signed.of_session(8)).proof.result is Result.NONE


async def test_a_record_of_another_session_is_seen(
    database: Database, signed: SignedDataService, keys: MeterKeysService
) -> None:
    meter = Meter()
    await keys.add(serial=SERIAL, public_key=meter.key_hex, by="key:board")
    texts = meter.charge()
    for session_id in (SESSION, 8, None):
        await arrive(database, *texts, session_id=session_id)
    await settled(signed)
    assert "very same record" in " ".join((await signed.of_session(SESSION)).proof.reasons)


async def test_nonsense_is_judged_too_and_a_false_key_is_told(
    database: Database, signed: SignedDataService
) -> None:
    await arrive(database, "<xml/>", Meter().record(), key="no key")
    await settled(signed)
    odd, bare = (await signed.of_session(SESSION)).records
    assert odd.verdict is Verdict.MALFORMED
    assert bare.verdict is Verdict.MALFORMED, "a record without readings"
    await arrive(database, Meter().charge()[0], key="no key")
    await settled(signed)
    last = (await signed.of_session(SESSION)).records[-1]
    assert last.verdict is Verdict.UNKNOWN_KEY
    assert last.reasons[-1] == "The key that came with it is neither hex nor base64."


async def test_a_fault_of_ours_with_one_record_holds_up_no_other(
    database: Database, signed: SignedDataService, keys: MeterKeysService, monkeypatch: pytest.MonkeyPatch
) -> None:
    meter = Meter()
    await keys.add(serial=SERIAL, public_key=meter.key_hex, by="key:board")
    first, last = meter.charge()
    await arrive(database, first, last)

    def faulty(record: Record, *more: Any) -> Judgement:
        if record.page[1] == 1:
            raise ZeroDivisionError
        return judge(record, *more)

    monkeypatch.setattr(service, "judge", faulty)
    await settled(signed)
    found = await signed.of_session(SESSION)
    assert [each.verdict for each in found.records] == [Verdict.MALFORMED, Verdict.VERIFIED]
    assert "log says why" in found.records[0].reasons[0]
    assert found.proof.result is Result.NOT_PROVEN


async def test_a_station_that_tells_signed_data_wakes_it(
    database: Database, signed: SignedDataService, clock: ManualClock
) -> None:
    tasks = Tasks()
    signed.start(tasks)
    text = Meter().charge()[0]
    await arrive(database, text)
    reading = Reading(at=BEGAN, signed=(SignedValue(text, text),))
    await signed.station_told("YARD-01", MetersReported(1, (reading,)), clock.now())
    async with asyncio.timeout(30):
        while (await signed.of_session(SESSION)).proof.result is Result.PENDING:  # noqa: ASYNC110
            await asyncio.sleep(0.01)
    await tasks.close()
