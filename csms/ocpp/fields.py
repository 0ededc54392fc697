"""Reading one wire object that may be false in any part of it.

`Fields` gives each part in its right type, or None, and writes down in `Notes` what was
wrong, so that a message about a transaction is kept as far as it can be read. `Words` are
the members of an enumeration of the wire with their meaning; letter case does not count.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, Generic, TypeVar

from csms.ocpp.adapter import Unreadable
from csms.ocpp.texts import clean
from csms.ocpp.times import read_time

T = TypeVar("T")

MOST_NOTES = 20
"""A stop may carry thousands of readings; more notes than this say nothing new."""

WIDEST = 2**63 - 1
"""The largest whole number that a database column holds."""


class Notes:
    """What was wrong with a message, at most MOST_NOTES of them."""

    __slots__ = ("_left_out", "_texts")

    def __init__(self, texts: tuple[str, ...] = ()) -> None:
        self._texts = list(texts)
        self._left_out = 0

    def add(self, field: str, problem: str) -> None:
        """One more deviation, written `field: problem`."""
        if len(self._texts) < MOST_NOTES:
            self._texts.append(f"{field}: {problem}")
        else:
            self._left_out += 1

    def texts(self) -> tuple[str, ...]:
        """All of them, with a last line that counts what was left out."""
        more = (f"and {self._left_out} more",) if self._left_out else ()
        return (*self._texts, *more)


class Words(Generic[T]):
    """The members of a wire enumeration with their meaning."""

    __slots__ = ("_exact", "_folded")

    def __init__(self, meanings: Mapping[str, T]) -> None:
        self._exact = dict(meanings)
        self._folded = {word.lower(): meaning for word, meaning in meanings.items()}

    def __iter__(self) -> Iterator[str]:
        return iter(self._exact)

    def read(self, word: object) -> T | None:
        """The meaning of `word` in any case; None for what is no member."""
        if type(word) is not str:
            return None
        found = self._exact.get(word)
        return self._folded.get(word.strip().lower()) if found is None else found


class Fields:
    """One wire object, a plain dict as the JSON reader gives it, and its place in the message."""

    __slots__ = ("_object", "_path", "notes")

    def __init__(self, value: object, notes: Notes | None = None, path: str = "") -> None:
        self._object: Mapping[str, Any] = value if isinstance(value, dict) else {}
        self._path = path
        self.notes = Notes() if notes is None else notes

    def __bool__(self) -> bool:
        return bool(self._object)

    def path(self, name: str) -> str:
        """The place of the part `name` in the message, e.g. `transactionInfo.chargingState`."""
        return f"{self._path}{name}"

    def false(self, name: str, problem: str) -> Unreadable:
        """The error to raise when nothing can be done without `name`."""
        return Unreadable(self.path(name), problem)

    def raw(self, name: str) -> Any:
        """The part as it came."""
        return self._object.get(name)

    def text(self, name: str) -> str:
        """Cleaned text, "" when absent or no text."""
        value = self._object.get(name)
        if value is None:
            return ""
        if isinstance(value, dict | list | bool):
            self.notes.add(self.path(name), "is no text")
        return clean(value)

    def whole(self, name: str) -> int | None:
        """A whole number, also from 7.0 or "7"; None when absent or none (noted)."""
        value = self._object.get(name)
        if value is None or value == "":
            return None
        if type(value) is float and value.is_integer():
            value = int(value)
        elif type(value) is str:
            self.notes.add(self.path(name), "is a text where a number is asked")
            try:
                value = int(value.replace("\0", ""))
            except ValueError:
                value = None
        if type(value) is int and -WIDEST <= value <= WIDEST:
            return value
        self.notes.add(self.path(name), "is no whole number")
        return None

    def number(self, name: str) -> float | None:
        """A finite number, also from a text; None when absent or none (noted)."""
        value = self._object.get(name)
        if value is None:
            return None
        try:
            if not isinstance(value, bool) and abs(number := float(value)) < float(WIDEST):
                return number
        except (TypeError, ValueError, OverflowError):
            pass
        self.notes.add(self.path(name), "is no number")
        return None

    def wh(self, name: str) -> int | None:
        """A register in Wh, rounded half up; also from a text or a fraction (noted)."""
        value = self._object.get(name)
        if type(value) is int and -WIDEST <= value <= WIDEST:
            return value
        number = self.number(name)
        if number is None:
            return None
        self.notes.add(self.path(name), "is not given as a whole number")
        return int(Decimal(str(number)).to_integral_value("ROUND_HALF_UP"))

    def time(self, name: str) -> datetime | None:
        """An instant; None when absent or none (noted)."""
        value = self._object.get(name)
        if value is None or value == "":
            return None
        try:
            return read_time(value, self.path(name))
        except Unreadable as error:
            self.notes.add(error.field, error.problem)
            return None

    def flag(self, name: str) -> bool:
        """True only for true (or "true")."""
        value = self._object.get(name)
        return value is True or (type(value) is str and value.strip().lower() == "true")

    def word(self, name: str, words: Words[T]) -> T | None:
        """The meaning of an enumeration's member; None when absent or unknown (noted)."""
        value = self._object.get(name)
        if value is None or value == "":
            return None
        meaning = words.read(value)
        if meaning is None:
            self.notes.add(self.path(name), f"{value!r:.60} is not of the standard")
        return meaning

    def part(self, name: str) -> "Fields":
        """The object `name`; one without parts when absent or no object."""
        value = self._object.get(name)
        if value is not None and not isinstance(value, dict):
            self.notes.add(self.path(name), "is no object")
        return Fields(value, self.notes, f"{self._path}{name}.")

    def parts(self, name: str) -> "Iterator[Fields]":
        """The objects of the list `name`; others in it are noted and left out."""
        for place, value in enumerate(self.items(name)):
            path = f"{self._path}{name}[{place}]"
            if isinstance(value, dict):
                yield Fields(value, self.notes, path + ".")
            else:
                self.notes.add(path, "is no object")

    def items(self, name: str) -> list[Any]:
        """The list `name`; a single object counts as a list of one, anything else as none (noted)."""
        value = self._object.get(name)
        if isinstance(value, list):
            return value
        if value is None:
            return []
        self.notes.add(self.path(name), "is no list")
        return [value] if isinstance(value, dict) else []
