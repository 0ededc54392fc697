"""The body of every version's adapter: tables of rows, one table per functional block.

A version's file for a block has `INBOUND` (action -> `Heard`), `ANSWERS` (neutral type ->
writer of the CALLRESULT payload) and `OUTBOUND` (command type -> `Asked`). What is in no
table is known to the standard at most: the engine answers it, or the command is Unsupported.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from csms.errors import OurFault
from csms.ocpp.adapter import Unreadable, Unsupported
from csms.ocpp.fields import Fields, Notes, Words
from csms.ocpp.texts import clean
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.events import Event
from csms.stations.questions import Answer, Question

Payload = dict[str, Any]
Writer = Callable[[Any, Any, datetime], Payload]
"""(question or event, its answer, now) -> CALLRESULT payload."""


@dataclass(frozen=True, slots=True)
class Heard:
    """An action of the station: what it becomes, and who reads it."""

    becomes: type[Question] | type[Event]
    read: Callable[[Fields, datetime], Question | Event]


@dataclass(frozen=True, slots=True)
class Asked:
    """A command: its action, who writes the payload, and who reads the answer."""

    action: str
    write: Callable[[Any], Payload | Unsupported]
    read: Callable[[Any, Fields], CommandResult]


class Block(Protocol):
    """A functional block: a module with the three tables."""

    INBOUND: Mapping[str, Heard]
    ANSWERS: Mapping[type[Question] | type[Event], Writer]
    OUTBOUND: Mapping[type[Command], Asked]


class Translator:
    """An `Adapter` made of blocks. Stateless, so that all sockets may share it."""

    def __init__(self, version: Version, blocks: Sequence[Block]) -> None:
        self.version = version
        self._heard: dict[str, Heard] = {}
        self._writers: dict[type[Question] | type[Event], Writer] = {}
        self._asked: dict[type[Command], Asked] = {}
        for block in blocks:
            self._heard |= block.INBOUND
            self._writers |= block.ANSWERS
            self._asked |= block.OUTBOUND
        self._inbound_actions = {action: row.becomes for action, row in self._heard.items()}
        self._outbound_actions = {command: row.action for command, row in self._asked.items()}

    @property
    def inbound_actions(self) -> Mapping[str, type[Question] | type[Event]]:
        """Actions of a station that we understand, each with what it becomes."""
        return self._inbound_actions

    @property
    def outbound_actions(self) -> Mapping[type[Command], str]:
        """Commands that the version has a message for."""
        return self._outbound_actions

    def inbound(
        self, action: str, payload: Mapping[str, Any], now: datetime, deviations: tuple[str, ...] = ()
    ) -> Question | Event:
        """What the station says. Raises Unreadable when there is no sense in it."""
        row = self._heard.get(action)
        if row is None:
            raise Unreadable("action", f"{action!r:.60} is not translated for OCPP {self.version}")
        return row.read(Fields(payload, Notes(deviations)), now)

    def answer(self, question: Question | Event, answer: Answer, now: datetime) -> Payload:
        """The CALLRESULT payload that carries `answer`. Raises OurFault for an answer of another kind."""
        writer = self._writers.get(type(question))
        return {} if writer is None else writer(question, answer, now)

    def outbound(self, command: Command) -> tuple[str, Payload] | Unsupported:
        """Action and CALL payload for `command`."""
        row = self._asked.get(type(command))
        if row is None:
            return Unsupported(f"OCPP {self.version} has no message for {type(command).__name__}")
        payload = row.write(command)
        return payload if isinstance(payload, Unsupported) else (row.action, payload)

    def result(self, command: Command, payload: Mapping[str, Any]) -> CommandResult:
        """What the station answered to `command`. Raises Unreadable when there is no status in it."""
        row = self._asked.get(type(command))
        if row is None:
            raise OurFault(f"OCPP {self.version} cannot have sent {type(command).__name__}")
        return row.read(command, Fields(payload))


def expect(answer: object, kind: type[Any]) -> Any:
    """`answer` if it is of the kind that the question wants, else OurFault."""
    if not isinstance(answer, kind):
        raise OurFault(f"the answer must be a {kind.__name__}, not {type(answer).__name__}")
    return answer


ACCEPTANCE = Words(
    {
        "Accepted": CommandStatus.ACCEPTED,
        "Scheduled": CommandStatus.SCHEDULED,
        "Rejected": CommandStatus.REJECTED,
        "RebootRequired": CommandStatus.REBOOT_REQUIRED,
        "Unlocked": CommandStatus.ACCEPTED,
        "UnlockFailed": CommandStatus.FAILED,
        "OngoingAuthorizedTransaction": CommandStatus.REJECTED,
        "UnknownConnector": CommandStatus.UNKNOWN,
        "Unknown": CommandStatus.UNKNOWN,
        "UnknownMessageId": CommandStatus.UNKNOWN,
        "UnknownVendorId": CommandStatus.UNKNOWN,
        "UnknownVendor": CommandStatus.UNKNOWN,
        "UnknownComponent": CommandStatus.UNKNOWN,
        "UnknownVariable": CommandStatus.UNKNOWN,
        "NoProfiles": CommandStatus.UNKNOWN,
        "EmptyResultSet": CommandStatus.UNKNOWN,
        "NotSupported": CommandStatus.UNSUPPORTED,
        "NotImplemented": CommandStatus.UNSUPPORTED,
        "NotSupportedAttributeType": CommandStatus.UNSUPPORTED,
    }
)
"""Status words of answers, both versions (1.6 table of statuses; 2.0.1 Part 2 enumerations)."""


def status_of(said: Fields, name: str = "status") -> tuple[CommandStatus, str]:
    """Status and detail; an unknown word is an ERROR with that word. Raises Unreadable without one.

    The detail is the station's word, with OCPP 2.x' reason and text behind it.
    """
    word = said.text(name)[:60]
    if not word:
        raise said.false(name, "is missing: whether the station agreed is unknown")
    info = said.part("statusInfo")
    reason = ": ".join(text for text in (info.text("reasonCode"), info.text("additionalInfo")) if text)
    return ACCEPTANCE.read(word) or CommandStatus.ERROR, clean(f"{word} ({reason})" if reason else word, 600)


def plain_result(command: object, said: Fields) -> CommandResult:
    """The result of a command that asks for nothing but consent."""
    return CommandResult(*status_of(said))
