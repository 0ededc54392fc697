"""A statement, or any value made of dataclasses, as one text: the same value is always the same text.

Fields in the order of their class, keys of mappings sorted, no blanks, UTF-8; Decimals as plain decimal
text, instants (which must be in UTC) with `Z`. Texts are stored as texts: a JSON column of a database
may write numbers and the order of keys anew, and then the hash would be another.
"""

import dataclasses
import hashlib
import types
import typing
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin

import orjson

T = TypeVar("T")


def write(value: object) -> str:
    """The text of `value`."""
    options = orjson.OPT_SORT_KEYS | orjson.OPT_UTC_Z | orjson.OPT_PASSTHROUGH_SUBCLASS
    return orjson.dumps(value, default=_plain, option=options).decode()


def read(kind: type[T], text: str) -> T:
    """The value of class `kind` that `text` was written from."""
    made: T = _maker(typing.cast(Any, kind))(orjson.loads(text))
    return made


def digest(text: str) -> str:
    """SHA-256 of the text, in hex."""
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"{value!r} has no canonical text")


@cache
def _maker(kind: Any) -> Callable[[Any], Any]:
    """What turns a JSON value into a `kind`."""
    if dataclasses.is_dataclass(kind):
        return _of_class(kind)
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        (inner,) = (each for each in get_args(kind) if each is not type(None))
        made = _maker(inner)
        return lambda value: None if value is None else made(value)
    if origin is tuple:
        parts = get_args(kind)
        if len(parts) == 2 and parts[1] is Ellipsis:
            made = _maker(parts[0])
            return lambda value: tuple(made(each) for each in value)
        makers = [_maker(part) for part in parts]
        return lambda value: tuple(make(each) for make, each in zip(makers, value, strict=True))
    if origin is not None and issubclass(origin, Mapping):
        _, inner = get_args(kind)
        made = _maker(inner)
        return lambda value: {key: made(each) for key, each in value.items()}
    if kind is datetime:
        return lambda value: datetime.fromisoformat(value).astimezone(UTC)
    if kind is date:
        return date.fromisoformat
    if kind is Decimal or (isinstance(kind, type) and issubclass(kind, Enum)):
        return typing.cast(Callable[[Any], Any], kind)
    return lambda value: value


def _of_class(kind: Any) -> Callable[[Any], Any]:
    hints = typing.get_type_hints(kind)
    makers = [(field.name, _maker(hints[field.name])) for field in dataclasses.fields(kind)]

    def make(value: Any) -> Any:
        return kind(**{name: maker(value[name]) for name, maker in makers if name in value})

    return make
