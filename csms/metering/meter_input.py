"""What a kind of meter input is to the rest, and what it is given. One file per kind in `inputs/`."""

from collections.abc import Mapping
from typing import ClassVar, Protocol, Self

from csms.clock import Clock
from csms.metering.building import LineReading
from csms.metering.fields import Fields


class Ear(Protocol):
    """Where an input's findings go, and what it needs.

    `longest_silence_s`: if nothing came for so long the connection is not to be trusted any more.
    """

    @property
    def clock(self) -> Clock: ...

    @property
    def period_s(self) -> float: ...

    @property
    def longest_silence_s(self) -> float: ...

    async def heard(self, reading: LineReading) -> None:
        """A good reading; one without any line does not count."""

    def trouble(self, problem: str) -> None:
        """Something came that could not be used; shown until the next good reading."""

    def secret(self, name: str) -> str:
        """The text of a secret file. Raises MeterFault when there is none."""

    def secret_path(self, name: str) -> str:
        """The path of a secret file. Raises MeterFault when there is none."""


class MeterInput(Protocol):
    """The settings of one meter: a frozen dataclass, one class per kind."""

    kind: ClassVar[str]

    @classmethod
    def parse(cls, fields: Mapping[str, object], path: str) -> Self:
        """From plain data without `kind`. Raises InvalidInput with the path of what is wrong."""

    async def listen(self, ear: Ear) -> None:
        """Connect and hand on what is told, until cancelled. Raises MeterFault when that breaks off."""


def known(fields: Mapping[str, object], path: str, *keys: str) -> Fields:
    """The fields of a kind; `kind` itself may be there."""
    return Fields({key: value for key, value in fields.items() if key != "kind"}, path, keys)
