"""A station's key, in each form that stations send it."""

import base64

import pytest

from csms.errors import InvalidInput
from csms.stations.credentials import check_key, key_matches, store_key

SALT = b"salt of sixteen."


def test_the_worked_example_of_the_standard() -> None:
    # OCPP-J 1.6, 6.2.2: station AL1000 with this AuthorizationKey sends this header.
    key = "0001020304050607FFFFFFFFFFFFFFFFFFFFFFFF"
    header = "QUwxMDAwOgABAgMEBQYH////////////////"
    user, password = base64.b64decode(header).split(b":", 1)
    assert user == b"AL1000"
    assert key_matches(store_key(key, SALT), password)


@pytest.mark.parametrize(
    "key", ["0001020304050607ffffffffffffffffffffffff", "00112233445566778899aabbccddeeff"]
)
def test_a_hex_key_is_taken_as_bytes_and_as_text_in_either_case(key: str) -> None:
    for kept in (store_key(key, SALT), store_key(key.upper(), SALT)):
        assert key_matches(kept, bytes.fromhex(key))
        assert key_matches(kept, key.encode())
        assert key_matches(kept, key.upper().encode())


@pytest.mark.parametrize(
    "key", ["bakery van bay 07", "DEADB33G" * 5, "pass:word with colon", "Schlüssel für Hof"]
)
def test_a_text_is_taken_as_it_is(key: str) -> None:
    kept = store_key(key, SALT)
    assert key_matches(kept, key.encode())
    assert not key_matches(kept, key.swapcase().encode())


@pytest.mark.parametrize("presented", [b"", b"wrong", b"\0" * 20, b"x" * 5000, b"\xff\xfe" * 9])
def test_anything_else_is_refused(presented: bytes) -> None:
    assert not key_matches(store_key("0001020304050607ffffffffffffffffffffffff", SALT), presented)


def test_the_same_key_with_another_salt_is_kept_otherwise() -> None:
    one, two = (store_key("bakery van bay 07", salt) for salt in (SALT, SALT[::-1]))
    assert one.hash != two.hash
    assert b"bakery" not in one.hash


@pytest.mark.parametrize("key", ["x" * 16, "x" * 40, "bakery van bay 07"])
def test_keys_that_a_station_can_hold(key: str) -> None:
    assert check_key("key", key) == key


@pytest.mark.parametrize("key", ["", "x" * 15, "x" * 41, "tab\tin the middle", " blank before it all"])
def test_keys_that_it_cannot(key: str) -> None:
    with pytest.raises(InvalidInput, match="key"):
        check_key("key", key)
