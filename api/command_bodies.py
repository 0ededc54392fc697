"""The bodies of commands, one model per kind, made from the neutral words themselves.

A new command needs nothing here: its fields, their types and its docstring become the model. A
`request_id` may be left out, and is drawn then. Bounds beyond these are those of the station's version
of the protocol: what it cannot carry comes back as `unsupported`, with the field that is in the way.
"""

import re
import secrets
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, cast, get_args, get_origin, get_type_hints

from pydantic import AfterValidator, Field, WithJsonSchema, create_model

from api.fields import Input, Instant
from csms.stations.commands import COMMANDS, Command, StartCharging, StopCharging

APART: tuple[type[Command], ...] = (StartCharging, StopCharging)
"""Have routes of their own, since people name a token of ours and a session of ours."""

LONGEST_TEXT = 20_000
LONGEST_LIST = 1024
LARGEST_NUMBER = 2**31 - 1
_SEAM = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")


def name_of(kind: type[Any]) -> str:
    """`get_log` for GetLog: what `command` in the body says."""
    return _SEAM.sub("_", kind.__name__).lower()


def _writable(text: str) -> str:
    if any(not char.isprintable() and char not in "\r\n\t " for char in text):
        raise ValueError("has a character that cannot be written; remove it")
    return text


_DECIMAL = re.compile(r"-?\d{1,9}(\.\d{1,6})?")


def _decimal(text: str) -> str:
    if not _DECIMAL.fullmatch(text):
        raise ValueError('give a decimal number as text, e.g. "0.31"')
    return text


Whole = Annotated[int, Field(ge=-LARGEST_NUMBER, le=LARGEST_NUMBER)]
Real = Annotated[float, Field(ge=-1e9, le=1e9)]
Words = Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(_writable)]
Exact = Annotated[
    str,
    AfterValidator(_decimal),
    WithJsonSchema({"type": "string", "pattern": f"^{_DECIMAL.pattern}$", "examples": ["0.31"]}),
]

_SIMPLE: dict[Any, Any] = {
    int: Whole,
    float: Real,
    bool: bool,
    str: Words,
    Decimal: Exact,
    datetime: Instant,
}


def _hint(kind: Any) -> Any:
    """The type of a model's field for that of a dataclass."""
    if get_origin(kind) in (Union, UnionType):
        inner = next(one for one in get_args(kind) if one is not type(None))
        return _hint(inner) | None
    if get_origin(kind) is tuple:
        return Annotated[list[_hint(get_args(kind)[0])], Field(max_length=LONGEST_LIST)]  # type: ignore[misc]
    if is_dataclass(kind) and isinstance(kind, type):
        return _part(kind)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return Annotated[kind, Field(strict=False)]
    return _SIMPLE[kind]


def _field(name: str, hint: Any, default: Any) -> tuple[Any, Any]:
    if name == "request_id" and default is MISSING:
        return _hint(hint | None), Field(default=None, description="Left out: drawn")
    if default is MISSING:
        return _hint(hint), ...
    if default == ():
        return _hint(hint), Field(default_factory=list)
    if is_dataclass(default):
        return _hint(hint), Field(default_factory=_hint(hint))
    return _hint(hint), default


def _fields(kind: type[Any]) -> dict[str, Any]:
    hints = get_type_hints(kind)
    return {each.name: _field(each.name, hints[each.name], each.default) for each in fields(kind)}


@cache
def _part(kind: type[Any]) -> type[Input]:
    """The model of a part of a command."""
    return create_model(kind.__name__, __base__=Input, __doc__=kind.__doc__, **_fields(kind))


@cache
def model_of(kind: type[Any]) -> type[Input]:
    """The model of a command: its fields, and `command` with its name."""
    named: Any = {"command": (Literal[name_of(kind)], ...)}
    return create_model(
        f"{kind.__name__}Command", __base__=Input, __doc__=kind.__doc__, **named, **_fields(kind)
    )


KINDS: dict[str, type[Command]] = {name_of(kind): kind for kind in COMMANDS if kind not in APART}
"""Commands by the word for them."""

AnyCommand: Any = Annotated[
    Union[tuple(model_of(cast(Any, kind)) for kind in KINDS.values())],  # noqa: UP007
    Field(discriminator="command"),
]
"""The body of a command of any kind, told apart by `command`."""


def _draw() -> int:
    return 1 + secrets.randbelow(LARGEST_NUMBER)


def build(body: Any, draw: Callable[[], int] = _draw) -> Command:
    """The command that a body asks for. `draw` gives ids of requests."""
    kind = KINDS[body.command]
    made: Command = _build(kind, body, draw)
    return made


def _build(kind: Any, value: Any, draw: Callable[[], int]) -> Any:
    hints = get_type_hints(kind)
    made: dict[str, Any] = {}
    for each in fields(kind):
        inner = getattr(value, each.name)
        if inner is None and each.name == "request_id" and each.default is MISSING:
            inner = draw()
        made[each.name] = _value(hints[each.name], inner, draw)
    return kind(**made)


def _value(kind: Any, value: Any, draw: Callable[[], int]) -> Any:
    if value is None:
        return None
    if get_origin(kind) in (Union, UnionType):
        return _value(next(one for one in get_args(kind) if one is not type(None)), value, draw)
    if get_origin(kind) is tuple:
        return tuple(_value(get_args(kind)[0], one, draw) for one in value)
    if is_dataclass(kind):
        return _build(kind, value, draw)
    return Decimal(value) if kind is Decimal else value
