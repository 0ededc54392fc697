"""What a source of price documents is."""

from abc import ABC, abstractmethod
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import ClassVar, Self

from csms.errors import PhaseyardError


class SourceFault(PhaseyardError):
    """A source cannot be read now; the text is for people. It is tried again."""

    code = "price-source"


@dataclass(frozen=True, slots=True)
class Found:
    """A document: its bytes, and where it came from.

    `may_lack`: it is no fault if it has no prices yet. `mark`: its state; once it is taken in, what has
    the same mark in `Around.seen` is not fetched again.
    """

    name: str
    raw: bytes
    may_lack: bool = False
    mark: object = None


@dataclass(frozen=True, slots=True)
class Around:
    """What sources share. `prices`, `secrets`: folders. `seen`: marks of what this feed has taken in."""

    prices: Path
    secrets: Path
    now: datetime
    seen: dict[str, object] = field(default_factory=dict)


class Source(ABC):
    """Settings of a feed that can fetch documents."""

    kind: ClassVar[str]

    @property
    @abstractmethod
    def every_s(self) -> float:
        """How often to ask."""

    @classmethod
    @abstractmethod
    def parse(cls, settings: Mapping[str, object], path: str) -> Self:
        """From a feed's settings; InvalidInput names what is wrong."""

    @abstractmethod
    def fetch(self, around: Around) -> AsyncIterator[Found]:
        """What is new. Raises SourceFault."""
