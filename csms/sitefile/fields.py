"""Typed values out of marked nodes. A fault is written down and reading goes on.

Values are taken as they are written: `17:00` is a time and not a number of minutes, `NO` is a text
and not false, `010` is no number at all.
"""

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import time
from enum import StrEnum
from typing import TypeVar

import yaml

from csms.errors import InvalidInput
from csms.sitefile.document import place_of
from csms.sitefile.places import Fault, Place
from csms.sites.model import LINES, LineAmps, check_amps

E = TypeVar("E", bound=StrEnum)
T = TypeVar("T")

MOST_ITEMS = 5_000
DEEPEST = 12
_NUMBER = re.compile(r"[-+]?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]{1,3})?")
_NOT_FINITE = re.compile(r"[-+]?\.(nan|inf)|[-+]?(nan|inf|infinity)", re.IGNORECASE)
_TIME = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])")
_NULL = "tag:yaml.org,2002:null"


@dataclass(slots=True)
class Ledger:
    """Faults, and the places of all that was read."""

    faults: list[Fault] = field(default_factory=list)
    places: dict[str, Place] = field(default_factory=dict)

    def fault(self, place: Place, path: str, problem: str) -> None:
        """Write a fault down, once: of an anchor that is used twice too."""
        found = Fault(place, path, problem)
        if found not in self.faults:
            self.faults.append(found)


class Fields:
    """A mapping with known keys. Every getter gives None where there is nothing good to give."""

    def __init__(self, ledger: Ledger, node: yaml.Node, path: str, known: tuple[str, ...]) -> None:
        self.path = path
        self.place = place_of(node)
        self._ledger = ledger
        self._values: dict[str, yaml.Node] = {}
        ledger.places[path] = self.place
        if not isinstance(node, yaml.MappingNode):
            self.fault("", f"must be a mapping with {', '.join(known)}")
            return
        for key, value in node.value:
            self._take(key, value, known)

    def _take(self, key: yaml.Node, value: yaml.Node, known: tuple[str, ...]) -> None:
        name = key.value if isinstance(key, yaml.ScalarNode) else "?"
        where = self._at(name)
        if name not in known:
            self._ledger.fault(
                place_of(key), where, f"there is no such key here; known are {', '.join(known)}"
            )
        elif name in self._values:
            self._ledger.fault(place_of(key), where, "is there twice; remove one")
        else:
            self._values[name] = value
            self._ledger.places[where] = place_of(value)

    def _at(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def fault(self, key: str, problem: str) -> None:
        """Write down that `key` ("": the mapping itself) is wrong."""
        path = self._at(key) if key else self.path
        node = self._values.get(key)
        self._ledger.fault(self.place if node is None else place_of(node), path, problem)

    def has(self, key: str) -> bool:
        """Whether the key is there and not null."""
        node = self._values.get(key)
        return node is not None and node.tag != _NULL

    def require(self, *keys: str) -> None:
        """A fault for each key that is missing."""
        for key in keys:
            if not self.has(key):
                self.fault("", f"{key} is missing; give a value")

    def text(self, key: str) -> str | None:
        node = self._scalar(key, "must be a text")
        return None if node is None else str(node.value)

    def checked(self, key: str, check: Callable[[str, str], T]) -> T | None:
        """The text in the form that `check(field, value)` gives it; its InvalidInput is a fault."""
        value = self.text(key)
        if value is None:
            return None
        try:
            return check(key, value)
        except InvalidInput as error:
            self.fault(key, error.problem)
            return None

    def choice(self, key: str, kind: type[E]) -> E | None:
        value = self.text(key)
        if value is None:
            return None
        if value not in list(kind):
            self.fault(key, f"{value!r} is none of {', '.join(kind)}")
            return None
        return kind(value)

    def number(self, key: str, *, lowest: float = 0.0, highest: float = math.inf) -> float | None:
        node = self._scalar(key, "must be a number")
        return None if node is None else self._number(node, self._at(key), lowest, highest)

    def whole(self, key: str, *, lowest: int = 0, highest: int) -> int | None:
        value = self.number(key, lowest=lowest, highest=highest)
        if value is not None and value != int(value):
            self.fault(key, f"must be a whole number, not {value:g}")
            return None
        return None if value is None else int(value)

    def flag(self, key: str, default: bool) -> bool:
        if key not in self._values:
            return default
        node = self._scalar(key, "must be true or false")
        if node is not None and (node.style or node.value not in ("true", "false")):
            self.fault(key, f"must be true or false, not {node.value}")
            return default
        return node is not None and node.value == "true"

    def clock_time(self, key: str) -> time | None:
        """A time of day, hh:mm."""
        value = self.text(key)
        if value is None:
            return None
        if not (match := _TIME.fullmatch(value)):
            self.fault(key, f"{value!r} is no time of day such as 07:30")
            return None
        return time(int(match[1]), int(match[2]))

    def line_amps(self, key: str) -> LineAmps | None:
        """One number for all lines, or one for each of L1, L2, L3; a line that is left out is 0."""
        node = self._values.get(key)
        if not isinstance(node, yaml.MappingNode):
            value = self.number(key)
            return None if value is None else self._amps(key, (value, value, value))
        lines = Fields(self._ledger, node, self._at(key), LINES)
        found = [lines.number(line) if line in lines._values else 0.0 for line in LINES]
        l1, l2, l3 = found
        if l1 is None or l2 is None or l3 is None:
            return None
        return self._amps(key, (l1, l2, l3))

    def _amps(self, key: str, values: LineAmps) -> LineAmps | None:
        try:
            for value in values:
                check_amps(key, value)
        except InvalidInput as error:
            self.fault(key, error.problem)
            return None
        return values

    def texts(self, key: str) -> tuple[str, ...] | None:
        """A list of texts."""
        node = self._values.get(key)
        if not isinstance(node, yaml.SequenceNode):
            self.fault(key, "must be a list, e.g. [L1, L2, L3]")
            return None
        found = []
        for i, item in enumerate(node.value[:MOST_ITEMS]):
            self._ledger.places[f"{self._at(key)}[{i}]"] = place_of(item)
            if not isinstance(item, yaml.ScalarNode) or item.tag == _NULL:
                self._ledger.fault(place_of(item), f"{self._at(key)}[{i}]", "must be a text")
                return None
            found.append(str(item.value))
        return tuple(found)

    def mappings(self, key: str, known: tuple[str, ...]) -> Iterator["Fields"]:
        """The mappings of a list; none where the key is missing."""
        if not self.has(key):
            return
        node = self._values[key]
        if not isinstance(node, yaml.SequenceNode):
            self.fault(key, f"must be a list of mappings with {', '.join(known)}")
            return
        if len(node.value) > MOST_ITEMS:
            self.fault(key, f"has {len(node.value)} items; at most {MOST_ITEMS} are read")
        for i, item in enumerate(node.value[:MOST_ITEMS]):
            yield Fields(self._ledger, item, f"{self._at(key)}[{i}]", known)

    def mapping(self, key: str, known: tuple[str, ...]) -> "Fields | None":
        """The mapping at `key`, None where it is missing or null."""
        if not self.has(key):
            return None
        return Fields(self._ledger, self._values[key], self._at(key), known)

    def plain(self, key: str) -> dict[str, object] | None:
        """A mapping of any keys as plain data, for a reader that knows them."""
        node = self._values.get(key)
        if not isinstance(node, yaml.MappingNode):
            self.fault(key, "must be a mapping")
            return None
        value = self._plain(node, self._at(key), DEEPEST)
        return value if isinstance(value, dict) else None

    def _plain(self, node: yaml.Node, path: str, deep: int) -> object:
        self._ledger.places[path] = place_of(node)
        if deep == 0 or len(self._ledger.places) > 20 * MOST_ITEMS:
            self._ledger.fault(place_of(node), path, "is nested too deeply or too large")
            return None
        if isinstance(node, yaml.MappingNode):
            found: dict[str, object] = {}
            for key, value in node.value:
                name = str(key.value) if isinstance(key, yaml.ScalarNode) else "?"
                if name in found:
                    self._ledger.fault(place_of(key), f"{path}.{name}", "is there twice; remove one")
                found[name] = self._plain(value, f"{path}.{name}", deep - 1)
            return found
        if isinstance(node, yaml.SequenceNode):
            return [self._plain(item, f"{path}[{i}]", deep - 1) for i, item in enumerate(node.value)]
        assert isinstance(node, yaml.ScalarNode)
        return _plain_scalar(node)

    def _scalar(self, key: str, problem: str) -> yaml.ScalarNode | None:
        node = self._values.get(key)
        if node is None:
            return None
        if not isinstance(node, yaml.ScalarNode) or node.tag == _NULL:
            self.fault(key, problem)
            return None
        return node

    def _number(self, node: yaml.ScalarNode, path: str, lowest: float, highest: float) -> float | None:
        problem = None
        value = 0.0
        if node.style or not _NUMBER.fullmatch(node.value):
            problem = f"must be a number, not {node.value!r}"
            if _NOT_FINITE.fullmatch(node.value):
                problem = f"must be a finite number, not {node.value}"
        else:
            value = float(node.value)
            if not math.isfinite(value):
                problem = f"must be a finite number, not {node.value}"
            elif value < 0 <= lowest:
                problem = f"must not be negative, but is {value:g}"
            elif value < lowest:
                problem = f"must be at least {lowest:g}, not {value:g}"
            elif value > highest:
                problem = f"must be at most {highest:g}, not {value:g}"
        if problem is None:
            return value
        self._ledger.fault(place_of(node), path, problem)
        return None


def _plain_scalar(node: yaml.ScalarNode) -> object:
    text = str(node.value)
    if node.style:
        return text
    if node.tag == _NULL:
        return None
    if text in ("true", "false"):
        return text == "true"
    if _NUMBER.fullmatch(text):
        return float(text) if any(c in text for c in ".eE") else int(text)
    return text
