"""What every protocol version's translator offers, and how to find one.

A version is a package `csms/ocpp/v…/` that has `ADAPTER: Adapter`. It is imported with the
first station that speaks it, since the schemas of a version take 10 to 60 ms to compile.
The translator is pure: it holds no state of a station and may be shared by all sockets.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from typing import Any, Protocol, cast

from csms.errors import InvalidInput
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult
from csms.stations.events import Event
from csms.stations.questions import Answer, Question


class Unreadable(InvalidInput):
    """A message whose meaning cannot be made out: `field` is the wire path, `problem` says why.

    The station erred, not we. For messages about transactions it is the last resort: they
    are read with what is there.
    """

    code = "unreadable"


@dataclass(frozen=True, slots=True)
class Unsupported:
    """The version has no message for a command, or not for these fields of it."""

    problem: str


class Adapter(Protocol):
    """Translates one protocol version to and from the words of `csms.stations`."""

    @property
    def version(self) -> Version: ...

    @property
    def inbound_actions(self) -> Mapping[str, type[Question] | type[Event]]:
        """Actions of a station that we understand, each with what it becomes.

        An action of the standard that is not among them is answered NotSupported.
        """
        ...

    @property
    def outbound_actions(self) -> Mapping[type[Command], str]:
        """Commands that the version has a message for, each with its usual action."""
        ...

    @property
    def asked_actions(self) -> Mapping[str, type[Command]]:
        """Every action that we may send, with the command that it comes from."""
        ...

    def inbound(
        self, action: str, payload: Mapping[str, Any], now: datetime, deviations: tuple[str, ...] = ()
    ) -> Question | Event:
        """What the station says. `deviations` is what was odd or put right on the way in.

        The payload may break the schema where the engine let it pass (unknown enum members,
        over-long texts; anything at all in messages about transactions): raises Unreadable,
        and nothing else, when no sense can be made of it.
        """
        ...

    def answer(self, question: Question | Event, answer: Answer, now: datetime) -> dict[str, Any]:
        """The CALLRESULT payload that carries `answer`; valid against the schema."""
        ...

    def outbound(self, command: Command) -> tuple[str, dict[str, Any]] | Unsupported:
        """Action and CALL payload for `command`; valid against the schema."""
        ...

    def result(self, command: Command, payload: Mapping[str, Any]) -> CommandResult:
        """What the station answered to `command`. Raises Unreadable as `inbound` does."""
        ...


_HOMES: Mapping[Version, str] = {
    Version.OCPP16: "csms.ocpp.v16",
    Version.OCPP201: "csms.ocpp.v201",
    Version.OCPP21: "csms.ocpp.v21",
}

VERSIONS: tuple[Version, ...] = tuple(_HOMES)
"""The versions that we have a translator for."""


def adapter_for(version: Version) -> Adapter:
    """The translator of `version`. Raises KeyError for one that is not in VERSIONS."""
    return cast(Adapter, import_module(_HOMES[version]).ADAPTER)
