"""Keys that somebody vouches for, on both databases."""

from datetime import timedelta

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.metering.signed.keys import repository
from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.keys.service import MeterKeysService
from csms.store.database import Database
from tests.csms.metering.signed.meter import SERIAL, Meter


@pytest.fixture
def changes() -> list[str]:
    return []


@pytest.fixture
def keys(database: Database, clock: ManualClock, changes: list[str]) -> MeterKeysService:
    return MeterKeysService(database, clock, lambda: changes.append("changed"))


async def test_a_key_from_its_first_day_to_its_last(
    keys: MeterKeysService, clock: ManualClock, changes: list[str]
) -> None:
    meter = Meter()
    added = await keys.add(serial=f" {SERIAL} ", public_key=meter.key_hex, by="key:board", note="nameplate")
    assert (added.serial, added.state, added.source, added.confirmed_at) == (
        *(SERIAL, KeyState.CONFIRMED, "key:board"),
        clock.now(),
    )
    with pytest.raises(Conflict, match=added.id):
        await keys.add(serial=SERIAL, public_key=meter.key_hex.upper(), by="x")
    until = clock.now() + timedelta(days=1)
    ended = await keys.update(added.id, valid_to=until, note="meter swapped")
    assert (ended.valid_to, ended.note) == (until, "meter swapped")
    assert await keys.get(added.id) == ended
    assert (await keys.list(SERIAL, KeyState.CONFIRMED)).items == (ended,)
    revoked = await keys.revoke(added.id)
    assert revoked.state is KeyState.REVOKED
    assert (await keys.confirm(added.id, "key:board")).state is KeyState.CONFIRMED
    assert len(changes) == 4


async def test_a_key_that_was_found_is_confirmed_by_whoever_brings_the_same(
    keys: MeterKeysService, database: Database, clock: ManualClock
) -> None:
    meter = Meter()
    found = MeterKey(
        id="key_1", serial=SERIAL, key=meter.key, state=KeyState.UNCONFIRMED, created_at=clock.now()
    )
    async with database.write() as connection:
        await repository.insert_key(connection, found)
    added = await keys.add(serial=SERIAL, public_key=meter.key_hex, by="key:board")
    assert (added.id, added.state) == ("key_1", KeyState.CONFIRMED)
    assert (await keys.list()).items == (added,)


async def test_what_cannot_be_is_refused(keys: MeterKeysService, clock: ManualClock) -> None:
    good = Meter().key_hex
    now = clock.now()
    for field, serial, text in (
        ("serial", " ", good),
        ("serial", "x" * 65, good),
        ("public_key", SERIAL, "abc"),
    ):
        with pytest.raises(InvalidInput) as refused:
            await keys.add(by="x", serial=serial, public_key=text)
        assert refused.value.field == field
    with pytest.raises(InvalidInput) as refused:
        await keys.add(serial=SERIAL, public_key=good, by="x", valid_from=now, valid_to=now)
    assert refused.value.field == "valid_to"
    with pytest.raises(NotFound):
        await keys.revoke("key_9")
