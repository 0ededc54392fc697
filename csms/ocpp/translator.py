"""The body of every version's adapter: tables of rows, one table per functional block.

A version's file for a block has `INBOUND` (action -> `Heard` or `Spelled`), `ANSWERS` (neutral type
-> writer of the CALLRESULT payload) and `OUTBOUND` (command type -> `Asked` or `Ordered`). Spelled and
Ordered rows have no code of their own: the schema says how each part is written. What is in no table is
known to the standard at most: the engine answers it, or the command is Unsupported.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Protocol

from csms.errors import OurFault
from csms.ocpp.adapter import Unreadable, Unsupported
from csms.ocpp.fields import Fields, Notes, Words
from csms.ocpp.keys import our_name
from csms.ocpp.schemas import Part, schema, valid, violations
from csms.ocpp.shapes import Refused, Shape, Special, resolve
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
    """A command: its action, who writes the payload, and who reads the answer.

    `write` may choose one of the `others` as (action, payload).
    """

    action: str
    write: Callable[[Any], "Payload | tuple[str, Payload] | Unsupported"]
    read: Callable[[Any, Fields], CommandResult]
    others: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Spelled:
    """An action of the station whose parts are those of the neutral word, spelled as the schema has them."""

    becomes: type[Question] | type[Event]
    where: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Ordered:
    """A command whose parts are those of the message. `gives`: what the answer's list of that name holds.

    `fixed`: parts that are always the same, by the object they stand in.
    """

    action: str
    where: Mapping[str, str] = field(default_factory=dict)
    fixed: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    read: "Callable[[Any, Fields], CommandResult] | None" = None
    gives: tuple[type[Any], str] | None = None


class Block(Protocol):
    """A functional block: a module with the three tables."""

    @property
    def INBOUND(self) -> Mapping[str, Heard | Spelled]: ...

    @property
    def ANSWERS(self) -> Mapping[type[Question] | type[Event], Writer]: ...

    @property
    def OUTBOUND(self) -> Mapping[type[Command], Asked] | Mapping[type[Command], Asked | Ordered]: ...


class Translator:
    """An `Adapter` made of blocks; of two rows for one word the later block's counts.

    Stateless but for the shapes it has made, so that all sockets may share it.
    """

    def __init__(self, version: Version, blocks: Sequence[Block], specials: tuple[Special, ...] = ()) -> None:
        self.version = version
        self._specials = specials
        self._heard: dict[str, Heard | Spelled] = {}
        self._writers: dict[type[Question] | type[Event], Writer] = {}
        self._asked: dict[type[Command], Asked | Ordered] = {}
        self._shapes: dict[tuple[type[Any], str, Part, str], Shape] = {}
        self.homes: dict[str, str] = {}
        """The module that has an action's row."""
        for block in blocks:
            self._heard |= block.INBOUND
            self._writers |= block.ANSWERS
            self._asked |= block.OUTBOUND
            home = getattr(block, "__name__", "")
            self.homes |= dict.fromkeys([*block.INBOUND, *_actions(block.OUTBOUND.values())], home)
        self._inbound_actions = {action: row.becomes for action, row in self._heard.items()}
        self._outbound_actions = {command: row.action for command, row in self._asked.items()}

    @property
    def inbound_actions(self) -> Mapping[str, type[Question] | type[Event]]:
        """Actions of a station that we understand, each with what it becomes."""
        return self._inbound_actions

    @property
    def outbound_actions(self) -> Mapping[type[Command], str]:
        """Commands that the version has a message for, each with its usual action."""
        return self._outbound_actions

    @property
    def asked_actions(self) -> Mapping[str, type[Command]]:
        """Every action that we may send, with the command that it comes from."""
        return {action: kind for kind, row in self._asked.items() for action in _actions([row])}

    def inbound(
        self, action: str, payload: Mapping[str, Any], now: datetime, deviations: tuple[str, ...] = ()
    ) -> Question | Event:
        """What the station says. Raises Unreadable when there is no sense in it."""
        row = self._heard.get(action)
        if row is None:
            raise Unreadable("action", f"{action!r:.60} is not translated for OCPP {self.version}")
        said = Fields(payload, Notes(deviations))
        if isinstance(row, Heard):
            return row.read(said, now)
        read: Question | Event = self._shape(row.becomes, action, Part.REQUEST, row.where).read(said)
        return read

    def answer(self, question: Question | Event, answer: Answer, now: datetime) -> Payload:
        """The CALLRESULT payload that carries `answer`. Raises OurFault for an answer of another kind."""
        writer = self._writers.get(type(question))
        return {} if writer is None else writer(question, answer, now)

    def outbound(self, command: Command) -> tuple[str, Payload] | Unsupported:
        """Action and CALL payload for `command`."""
        row = self._asked.get(type(command))
        if row is None:
            return Unsupported(f"OCPP {self.version} has no message for {type(command).__name__}")
        if isinstance(row, Ordered):
            return self._order(row, command)
        written = row.write(command)
        return (row.action, written) if isinstance(written, dict) else written

    def _order(self, row: Ordered, command: Command) -> tuple[str, Payload] | Unsupported:
        try:
            payload = self._shape(type(command), row.action, Part.REQUEST, row.where).write(command)
        except Refused as error:
            return Unsupported(str(error))
        for name, parts in row.fixed.items():
            payload.setdefault(name, {}).update(parts)
        return checked(self.version, row.action, payload, row.where)

    def result(self, command: Command, payload: Mapping[str, Any]) -> CommandResult:
        """What the station answered to `command`. Raises Unreadable when there is no status in it."""
        row = self._asked.get(type(command))
        if row is None:
            raise OurFault(f"OCPP {self.version} cannot have sent {type(command).__name__}")
        said = Fields(payload)
        if row.read is not None:
            return row.read(command, said)
        assert isinstance(row, Ordered)
        result = plain_result(command, said) if self._has_status(row.action) else ACCEPTED
        if row.gives is None:
            return result
        kind, name = row.gives
        shape = self._shape(kind, row.action, Part.RESPONSE, {}, name)
        return replace(result, data=tuple(shape.read(each) for each in said.parts(name)))

    def _has_status(self, action: str) -> bool:
        return "status" in schema(self.version, action, Part.RESPONSE).get("properties", {})

    def _shape(
        self, kind: type[Any], action: str, part: Part, where: Mapping[str, str], name: str = ""
    ) -> Shape:
        """The shape of `kind` in the message, or in the items of its list `name`."""
        key = (kind, action, part, name)
        if key not in self._shapes:
            whole = schema(self.version, action, part)
            definitions = whole.get("definitions", {})
            node = resolve(whole["properties"][name]["items"], definitions) if name else whole
            label = f"OCPP {self.version}"
            self._shapes[key] = Shape(kind, node, definitions, label, where, self._specials)
        return self._shapes[key]


def _actions(rows: Iterable[Asked | Ordered]) -> Iterator[str]:
    for row in rows:
        yield row.action
        if isinstance(row, Asked):
            yield from row.others


def checked(
    version: Version, action: str, payload: Payload, where: Mapping[str, str] | None = None
) -> tuple[str, Payload] | Unsupported:
    """Action and payload if the official schema allows them, else what is wrong, in our names.

    For what people may ask: the bounds of its texts and numbers are those of the version.
    """
    if valid(version, action, Part.REQUEST, payload):
        return action, payload
    worst = violations(version, action, Part.REQUEST, payload)[0]
    own = {wire.rpartition(".")[2]: ours.rpartition(".")[2] for ours, wire in (where or {}).items()}
    path = _STEP.sub(lambda step: own.get(step[0]) or our_name(step[0]), worst.path)
    return Unsupported(f"{path or action}: {worst.problem} (OCPP {version})")


_STEP = re.compile(r"(?<![\w\[])[A-Za-z]\w*")


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
        "AcceptedCanceled": CommandStatus.ACCEPTED,
        "Unpublished": CommandStatus.ACCEPTED,
        "Failed": CommandStatus.FAILED,
        "Faulted": CommandStatus.FAILED,
        "Occupied": CommandStatus.REJECTED,
        "Unavailable": CommandStatus.REJECTED,
        "VersionMismatch": CommandStatus.REJECTED,
        "Invalid": CommandStatus.REJECTED,
        "InvalidCertificate": CommandStatus.REJECTED,
        "RevokedCertificate": CommandStatus.REJECTED,
        "Duplicate": CommandStatus.REJECTED,
        "DuplicateTariffId": CommandStatus.REJECTED,
        "TooManyElements": CommandStatus.REJECTED,
        "NoCurrencyChange": CommandStatus.REJECTED,
        "DownloadOngoing": CommandStatus.REJECTED,
        "NotFound": CommandStatus.UNKNOWN,
        "NoFirmware": CommandStatus.UNKNOWN,
        "NoTariff": CommandStatus.UNKNOWN,
        "NoProfile": CommandStatus.UNKNOWN,
        "TxNotFound": CommandStatus.UNKNOWN,
        "UnknownTransaction": CommandStatus.UNKNOWN,
        "UnsupportedMonitorType": CommandStatus.UNSUPPORTED,
        "ConditionNotSupported": CommandStatus.UNSUPPORTED,
        "LanguageNotSupported": CommandStatus.UNSUPPORTED,
        "NotSupportedMessageFormat": CommandStatus.UNSUPPORTED,
        "NotSupportedPriority": CommandStatus.UNSUPPORTED,
        "NotSupportedState": CommandStatus.UNSUPPORTED,
    }
)
"""Status words of answers, all versions (1.6 table of statuses; 2.0.1 and 2.1 Part 2 enumerations)."""

ACCEPTED = CommandResult(CommandStatus.ACCEPTED)
"""The result of a command whose answer has no status: that there is an answer is all."""


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
