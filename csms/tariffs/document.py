"""Reading JSON strictly: numbers stay exact, and what is wrong is named by its path.

A path is written as one would find it in the file: `elements[0].price_components[1].price`.
"""

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from enum import StrEnum
from typing import NoReturn, TypeVar

from csms.errors import InvalidInput

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)
Read = Callable[[object, str], T]
"""Checks a JSON value at a path."""

_LARGEST = 15
_SMALLEST = -15
_NO_DEPTH = "nested too deeply to be a tariff or session"


def load_json(text: str, name: str) -> object:
    """The JSON value of `text`, its fractional numbers as Decimal; `name` stands for it in errors."""

    def refuse(constant: str) -> NoReturn:
        raise InvalidInput(name, f"{constant} is not a JSON number")

    def unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
        found: dict[str, object] = {}
        for key, value in pairs:
            if key in found:
                raise InvalidInput(name, f"{key!r} occurs twice in one object; keep one")
            found[key] = value
        return found

    try:
        return json.loads(text, parse_float=Decimal, parse_constant=refuse, object_pairs_hook=unique)
    except RecursionError:
        raise InvalidInput(name, _NO_DEPTH) from None
    except ValueError as error:
        raise InvalidInput(name, f"not JSON: {error}") from None


def dump_json(value: object) -> str:
    """JSON text in which every Decimal keeps its digits. The inverse of `load_json`."""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Mapping):
        return "{" + ",".join(f"{json.dumps(str(k))}:{dump_json(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ",".join(dump_json(item) for item in value) + "]"
    return json.dumps(value)


@dataclass(frozen=True, slots=True)
class Fields:
    """The fields of one JSON object at a path. A null is a field left out, as OCPI has it."""

    values: Mapping[str, object]
    path: str

    @classmethod
    def of(cls, value: object, path: str, known: Iterable[str]) -> "Fields":
        """The object at `path`, which may have the `known` fields and no other."""
        if not isinstance(value, Mapping):
            raise InvalidInput(path or "document", f"must be an object, not {_kind(value)}")
        fields = cls(value, path)
        names = list(known)
        for name in value:
            if name not in names:
                raise InvalidInput(fields.at(name), f"not a field here; known are {', '.join(names)}")
        return fields

    def at(self, name: str) -> str:
        return f"{self.path}.{name}" if self.path else name

    def take(self, name: str, read: Read[T]) -> T:
        """A field that must be there."""
        value = self.values.get(name)
        if value is None:
            raise InvalidInput(self.at(name), "missing")
        return read(value, self.at(name))

    def maybe(self, name: str, read: Read[T]) -> T | None:
        """A field that may be left out."""
        value = self.values.get(name)
        return None if value is None else read(value, self.at(name))


def number(value: object, path: str) -> Decimal:
    """A JSON number, exact."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise InvalidInput(path, f"must be a number, not {_kind(value)}")
    exact = Decimal(value)
    if not exact.is_finite():
        raise InvalidInput(path, f"must be a number, not {value}")
    exponent = exact.as_tuple().exponent
    if exact and not (isinstance(exponent, int) and exponent >= _SMALLEST and exact.adjusted() <= _LARGEST):
        raise InvalidInput(path, f"at most {_LARGEST} digits before and after the point make sense")
    return exact


def not_negative(value: object, path: str) -> Decimal:
    """A JSON number of at least 0, exact."""
    exact = number(value, path)
    if exact < 0:
        raise InvalidInput(path, f"must not be negative, is {exact}")
    return exact


def whole(value: object, path: str) -> int:
    """A whole JSON number of at least 0."""
    exact = not_negative(value, path)
    if exact != exact.to_integral_value():
        raise InvalidInput(path, f"must be a whole number, is {exact}")
    return int(exact)


def percent(value: object, path: str) -> Decimal:
    """A JSON number from 0 to 100, exact."""
    exact = not_negative(value, path)
    if exact > 100:
        raise InvalidInput(path, f"must be a percentage from 0 to 100, is {exact}")
    return exact


def text(longest: int) -> Read[str]:
    """A string of 1 to `longest` characters."""

    def read(value: object, path: str) -> str:
        if not isinstance(value, str):
            raise InvalidInput(path, f"must be text, not {_kind(value)}")
        if not 1 <= len(value) <= longest:
            raise InvalidInput(path, f"must have 1 to {longest} characters, has {len(value)}")
        return value

    return read


def choice(kind: type[E]) -> Read[E]:
    """One of an enumeration's words."""

    def read(value: object, path: str) -> E:
        word = text(40)(value, path)
        if word not in list(kind):
            raise InvalidInput(path, f"must be one of {', '.join(kind)}, is {word!r}")
        return kind(word)

    return read


def items(read: Read[T], *, at_least: int = 0) -> Read[tuple[T, ...]]:
    """A list, each item read."""

    def read_all(value: object, path: str) -> tuple[T, ...]:
        if not isinstance(value, list | tuple):
            raise InvalidInput(path, f"must be a list, not {_kind(value)}")
        if len(value) < at_least:
            raise InvalidInput(path, f"must have at least {at_least}")
        return tuple(read(item, f"{path}[{i}]") for i, item in enumerate(value))

    return read_all


def anything(value: object, path: str) -> object:
    """A value that we keep as it is."""
    return value


_INSTANT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,9})?(Z|\+00:00)?")


def instant(value: object, path: str) -> datetime:
    """OCPI's DateTime: RFC 3339 in UTC, where a missing zone means UTC too."""
    written = text(35)(value, path)
    if not _INSTANT.fullmatch(written):
        raise InvalidInput(path, f"must be a time in UTC such as 2026-01-31T22:00:00Z, is {written!r}")
    trimmed = re.sub(r"(\.\d{6})\d+", r"\1", written.removesuffix("Z").removesuffix("+00:00"))
    try:
        return datetime.fromisoformat(trimmed).replace(tzinfo=UTC)
    except ValueError as error:
        raise InvalidInput(path, f"{written!r} is no time: {error}") from None


def _kind(value: object) -> str:
    """What JSON calls the value."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, str):
        return f"the text {value[:40]!r}"
    if isinstance(value, int | float | Decimal):
        return "a number" if not isinstance(value, float) else "a float (read it with load_json)"
    return "a list" if isinstance(value, list | tuple) else "an object"
