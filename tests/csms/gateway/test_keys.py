import asyncio
from dataclasses import replace

import pytest

from csms.gateway import keys
from csms.gateway.keys import AT_ONCE, KeyCheck
from csms.stations.credentials import StoredKey, key_matches, store_key
from tests.csms.gateway.stage import KEY


@pytest.mark.parametrize("presented", [bytes.fromhex(KEY), KEY.encode(), KEY.lower().encode()])
async def test_the_three_forms_of_a_key(presented: bytes) -> None:
    assert await KeyCheck(b"s").is_right(store_key(KEY, b"salt"), presented)


async def test_a_plain_text_key() -> None:
    stored = store_key("spindle-and-shuttle", b"salt")
    assert await KeyCheck(b"s").is_right(stored, b"spindle-and-shuttle")
    assert not await KeyCheck(b"s").is_right(stored, b"Spindle-and-shuttle")


async def test_who_was_right_is_remembered_until_the_key_changes(monkeypatch: pytest.MonkeyPatch) -> None:
    reckoned: list[bytes] = []

    def count(stored: StoredKey, presented: bytes) -> bool:
        reckoned.append(presented)
        return key_matches(stored, presented)

    monkeypatch.setattr(keys, "key_matches", count)
    check, stored = KeyCheck(b"s"), store_key(KEY, b"salt")
    for _ in range(3):
        assert await check.is_right(stored, KEY.encode())
        assert not await check.is_right(stored, b"wrong")
    assert reckoned.count(KEY.encode()) == 1
    assert reckoned.count(b"wrong") == 3
    assert not await check.is_right(replace(stored, hash=b"another"), KEY.encode())


async def test_guesses_take_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    running = most = 0

    async def in_thread(work: object, stored: StoredKey, presented: bytes) -> bool:
        nonlocal running, most
        running += 1
        most = max(most, running)
        await asyncio.sleep(0)
        running -= 1
        return False

    monkeypatch.setattr(asyncio, "to_thread", in_thread)
    check, stored = KeyCheck(b"s"), store_key(KEY, b"salt")
    await asyncio.gather(*(check.is_right(stored, str(n).encode()) for n in range(10)))
    assert most == AT_ONCE
