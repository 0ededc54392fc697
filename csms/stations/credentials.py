"""The key of a station: how it is kept, and how what a station sends is compared with it.

OCPP 1.6 sets the key as hex text (AuthorizationKey, 16 to 20 bytes as 32 to 40 digits) and has the
bytes themselves sent as the password of HTTP Basic; stations in the field also send the hex text.
OCPP 2.x sets a text of 16 to 40 characters and has it sent as it is. So a hex key is kept in one
form, and what comes is tried as text and as bytes.

Kept is a salted scrypt hash (RFC 7914). It costs some 10 ms and 4 MiB: remember who was right
rather than reckon again at every reconnect.
"""

import hashlib
import hmac
import re
from dataclasses import dataclass

from csms.errors import InvalidInput

SHORTEST, LONGEST = 16, 40
SALT_BYTES = 16

_HEX = re.compile(rb"(?:[0-9A-Fa-f]{2}){16,20}")


@dataclass(frozen=True, slots=True)
class StoredKey:
    """What is kept of a key."""

    salt: bytes
    hash: bytes


def check_key(field: str, value: str) -> str:
    """`value` if a station can hold it as its key; InvalidInput otherwise."""
    if not SHORTEST <= len(value) <= LONGEST or not value.isprintable() or value != value.strip():
        raise InvalidInput(field, f"must be {SHORTEST} to {LONGEST} printable characters (hex or any text)")
    return value


def store_key(key: str, salt: bytes) -> StoredKey:
    """What to keep of `key`; `salt` is random and new for each key."""
    return StoredKey(salt, _hash(_folded(key.encode()), salt))


def key_matches(stored: StoredKey, presented: bytes) -> bool:
    """Whether the password `presented` in HTTP Basic is the key, as text or as the bytes of a hex key."""
    forms = [_folded(presented)]
    if 16 <= len(presented) <= 20:
        forms.append(presented.hex().encode())
    return any(hmac.compare_digest(stored.hash, _hash(form, stored.salt)) for form in forms)


def _folded(text: bytes) -> bytes:
    return text.lower() if _HEX.fullmatch(text) else text


def _hash(text: bytes, salt: bytes) -> bytes:
    return hashlib.scrypt(text, salt=salt, n=2**12, r=8, p=1, dklen=32)
