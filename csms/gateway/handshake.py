"""What a station says while it connects: identity, key, version. Pure.

The path is the endpoint and the identity, percent-encoded (OCPP-J 1.6 §3.1.1); the user name of
HTTP Basic is the identity again, the password may be any bytes (OCPP-J 1.6 §6.2.2, RFC 7617).
"""

import base64
import binascii
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from urllib.parse import unquote

from csms.ocpp.version import Version

ENDPOINT = "/ocpp/"


def identity_of(path: str, endpoint: str = ENDPOINT) -> str | None:
    """The identity in a request's path; None when there is none.

    Decoded once. The query is ignored, and so are a slash at the end and doubled ones before the
    identity, which stations put there when the endpoint they were given has one.
    """
    place, _, _ = path.partition("?")
    if not place.startswith(endpoint):
        return None
    encoded = place[len(endpoint) :].lstrip("/").removesuffix("/")
    if not encoded or "/" in encoded:
        return None
    try:
        return unquote(encoded, errors="strict")
    except UnicodeDecodeError:
        return None


def basic_credentials(header: str | None) -> tuple[bytes, bytes] | None:
    """User name and password of an Authorization header, as bytes; None when it has none.

    Split at the first colon only: the password may hold colons, and bytes that are no text.
    """
    scheme, _, encoded = (header or "").strip().partition(" ")
    if scheme.lower() != "basic":
        return None
    try:
        plain = base64.b64decode(encoded.strip().encode("ascii"), validate=True)
    except (binascii.Error, UnicodeEncodeError):
        return None
    user, colon, password = plain.partition(b":")
    return (user, password) if colon else None


@dataclass(frozen=True, slots=True)
class Choice:
    """A version, and its subprotocol as the station spelled it, which the answer must repeat."""

    version: Version
    spelled: str


def choose_version(offered: Iterable[str], ours: Collection[Version]) -> Choice | None:
    """The first version in the station's order of preference that we speak; None: nothing in common."""
    for spelled in offered:
        version = Version.of_subprotocol(spelled)
        if version is not None and version in ours:
            return Choice(version, spelled)
    return None


def offered_subprotocols(headers: Iterable[str]) -> tuple[str, ...]:
    """The names in the Sec-WebSocket-Protocol headers, in order."""
    names = (name.strip() for header in headers for name in header.split(","))
    return tuple(name for name in names if name)
