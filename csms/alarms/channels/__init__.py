"""Ways to tell people and programs: a file per kind, and this list."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One message. `id` stays the same when it is tried again, so that the receiver can tell."""

    id: str
    address: str
    secret: str
    subject: str
    text: str
    body: Mapping[str, Any]


class Channel(Protocol):
    """Sends one letter. Raises MessageFault when it could not be sent now; the text is for people."""

    async def send(self, letter: Letter) -> None: ...
