"""The JSON arrays of OCPP-J, read and written.

Reading gives a frame or a `Malformed` that says what is wrong and whether, with which id and
which code, it can be answered. It never raises, whatever the text is. Size and nesting are
checked before anything parses the text. Writing gives the text of a frame.

Sources: OCPP-J 1.6 §4 with errata, OCPP 2.0.1 and 2.1 part 4 §4.
"""

import re
from dataclasses import dataclass, field
from typing import Any

import orjson

from csms.errors import OurFault
from csms.ocpp.faults import Fault
from csms.ocpp.version import Version

ID_LENGTH = 36
"""Longest message id of the standard, in characters."""
ID_LENGTH_TAKEN = 255
"""Longest message id that we take: some stations put a prefix before a UUID."""
UNREADABLE_ID = "-1"
"""The id under which 2.x answers a message whose own id could not be read (part 4 §4.2.3)."""
TEXT_LENGTH = 255
"""Longest error description, in characters."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What is read at all: characters of a frame, and levels of nesting."""

    characters: int = 4 * 1024 * 1024
    depth: int = 32


@dataclass(frozen=True, slots=True)
class Call:
    """A request. A null payload, legal in OCPP-J, is an empty one here."""

    id: str
    action: str
    payload: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Send:
    """A message that nobody answers (OCPP 2.1)."""

    id: str
    action: str
    payload: dict[str, Any]


@dataclass(frozen=True, slots=True)
class CallResult:
    """The answer to a request."""

    id: str
    payload: dict[str, Any]


@dataclass(frozen=True, slots=True)
class CallError:
    """The refusal of a request; `code` as the peer spelled it."""

    id: str
    code: str
    text: str = ""
    details: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class CallResultError:
    """The answer could not be used by the peer (OCPP 2.1)."""

    id: str
    code: str
    text: str = ""
    details: dict[str, Any] = field(default_factory=dict)


Frame = Call | CallResult | CallError | CallResultError | Send


@dataclass(frozen=True, slots=True)
class Malformed:
    """A text that is no frame. `answer_id` None: it must not, or cannot, be answered."""

    problem: str
    fault: Fault
    answer_id: str | None = None


_NUMBERS: dict[type[Frame], int] = {Call: 2, CallResult: 3, CallError: 4, CallResultError: 5, Send: 6}
_ID_OF_A_CALL = re.compile(rf'\s*\[\s*2\s*,\s*"([^"\\\x00-\x1f]{{1,{ID_LENGTH_TAKEN}}})"')
# Always matches from a quote on, to the end if need be, so that a hostile text costs one pass.
_STRING = re.compile(rb'"[^"\\]*+(?:\\.[^"\\]*+)*+(?:"|\\?\Z)', re.DOTALL)
_TO_SQUARE = bytes.maketrans(b"{}", b"[]")
_NOT_BRACKETS = bytes(code for code in range(256) if code not in b"[]{}")


def read(text: str, version: Version, limits: Limits) -> Frame | Malformed:
    """The frame in `text`, or why there is none."""
    if len(text) > limits.characters:
        problem = f"the message has {len(text)} characters, more than {limits.characters}"
        return _unreadable(problem, text, version)
    if text.count("[") + text.count("{") > limits.depth and _deeper_than(limits.depth, text):
        return _unreadable(f"the message is nested deeper than {limits.depth} levels", text, version)
    try:
        parts = orjson.loads(text)
    except (orjson.JSONDecodeError, UnicodeEncodeError):
        return _unreadable("the message is not JSON", text, version)
    if not isinstance(parts, list) or not parts:
        return _unreadable("the message is not a JSON array with elements", text, version)
    return _frame(parts, version)


def _frame(parts: list[Any], version: Version) -> Frame | Malformed:
    number = parts[0]
    message_id = parts[1] if len(parts) > 1 else None
    if not isinstance(message_id, str) or not 0 < len(message_id) <= ID_LENGTH_TAKEN:
        is_call = type(number) is int and number == 2
        return Malformed(
            f"the message id is not a text of 1 to {ID_LENGTH} characters",
            Fault.FRAMEWORK,
            UNREADABLE_ID if version is not Version.OCPP16 and is_call else None,
        )
    if type(number) is not int:
        return Malformed("the message type is not a whole number", Fault.FRAMEWORK)
    if number == 2:
        return _call(message_id, parts)
    if number == 3:
        return _result(message_id, parts)
    if number == 4:
        return CallError(message_id, *_error(parts))
    if version is Version.OCPP21 and number == 5:
        return CallResultError(message_id, *_error(parts))
    if version is Version.OCPP21 and number == 6:
        call = _call(message_id, parts)
        return (
            Send(call.id, call.action, call.payload)
            if isinstance(call, Call)
            else Malformed(call.problem, call.fault)
        )
    return Malformed(
        f"there is no message type {number}",
        Fault.MESSAGE_TYPE,
        message_id if version is Version.OCPP201 else None,
    )


def _call(message_id: str, parts: list[Any]) -> Call | Malformed:
    if len(parts) != 4:
        return Malformed(f"a call has 4 elements, not {len(parts)}", Fault.FORMAT, message_id)
    _, _, action, payload = parts
    if not isinstance(action, str) or not action:
        return Malformed("the action is not a text", Fault.FORMAT, message_id)
    if payload is None:
        payload = {}
    if not isinstance(payload, dict):
        return Malformed("the payload is not a JSON object", Fault.FORMAT, message_id)
    return Call(message_id, action, payload)


def _result(message_id: str, parts: list[Any]) -> CallResult | Malformed:
    # Not answerable: 1.6 and 2.0.1 have no answer to an answer.
    payload = parts[2] if len(parts) > 2 else None
    if payload is None:
        payload = {}
    if not isinstance(payload, dict):
        return Malformed("the payload of an answer is not a JSON object", Fault.FORMAT)
    return CallResult(message_id, payload)


def _error(parts: list[Any]) -> tuple[str, str, dict[str, Any]]:
    """Code, text and details, whatever of them is there: a refusal must not get lost."""
    code, text, details = (*parts[2:5], None, None, None)[:3]
    return (
        code if isinstance(code, str) else "",
        text if isinstance(text, str) else "",
        details if isinstance(details, dict) else {},
    )


def _unreadable(problem: str, text: str, version: Version) -> Malformed:
    """1.6 answers a call whose id can still be cut out of the text; 2.x answers under "-1"."""
    if version is not Version.OCPP16:
        return Malformed(problem, Fault.FRAMEWORK, UNREADABLE_ID)
    found = _ID_OF_A_CALL.match(text[: ID_LENGTH_TAKEN + 64])
    return Malformed(problem, Fault.FORMAT, found.group(1) if found else None)


def _deeper_than(depth: int, text: str) -> bool:
    """Whether brackets outside of strings are nested deeper; in C loops, `depth` passes at most."""
    outside = _STRING.sub(b"", text.encode("utf-8", "surrogatepass"))
    brackets = outside.translate(_TO_SQUARE, _NOT_BRACKETS)
    for _ in range(depth):
        if not brackets:
            return False
        before, brackets = brackets, brackets.replace(b"[]", b"")
        if before == brackets:
            return False  # not balanced: no JSON, which the parser will say
    return bool(brackets)


def write(frame: Frame) -> str:
    """The text of `frame`. Raises OurFault for a value that JSON has no form for."""
    number = _NUMBERS[type(frame)]
    parts: list[Any]
    if isinstance(frame, Call | Send):
        parts = [number, frame.id, frame.action, frame.payload]
    elif isinstance(frame, CallResult):
        parts = [number, frame.id, frame.payload]
    else:
        parts = [number, frame.id, frame.code, frame.text[:TEXT_LENGTH], frame.details]
    try:
        return orjson.dumps(parts).decode()
    except orjson.JSONEncodeError as error:
        raise OurFault(f"a message has no JSON form: {error}") from error
