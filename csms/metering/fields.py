"""Values out of a plain mapping (JSON, YAML). The first wrong one is an InvalidInput with its path."""

import math
import re
from collections.abc import Callable, Mapping

from csms.errors import InvalidInput
from csms.sites.model import LINES

LONGEST_TEXT = 255
_HOST = re.compile(r"[A-Za-z0-9_.:-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\]")
_SECRET = re.compile(r"[a-z0-9][a-z0-9._-]{0,63}")


class Fields:
    """A mapping of which only the keys `known` may be there. `path`: where it stands, for the errors."""

    def __init__(self, given: object, path: str, known: tuple[str, ...]) -> None:
        self.path = path
        if not isinstance(given, Mapping):
            raise InvalidInput(path, f"must be a mapping with {', '.join(known)}")
        for key in given:
            if key not in known:
                raise InvalidInput(
                    self.at(str(key)), f"there is no such key here; known are {', '.join(known)}"
                )
        self._given: Mapping[str, object] = given

    def at(self, key: str) -> str:
        """The path of a key."""
        return f"{self.path}.{key}" if self.path else key

    def __contains__(self, key: str) -> bool:
        return self._given.get(key) is not None

    def raw(self, key: str) -> object:
        """The value as it stands there; it must be there."""
        if key not in self:
            raise InvalidInput(self.at(key), "is missing; give a value")
        return self._given[key]

    def text(self, key: str, default: str | None = None, *, longest: int = LONGEST_TEXT) -> str:
        """One line of text."""
        if key not in self and default is not None:
            return default
        value = self.raw(key)
        if not isinstance(value, str):
            raise InvalidInput(self.at(key), "must be a text")
        if not value.isprintable() or len(value) > longest:
            raise InvalidInput(self.at(key), f"must be one line of at most {longest} characters")
        if not value:
            raise InvalidInput(self.at(key), "must not be empty")
        return value

    def host(self, key: str = "host") -> str:
        """A host's name or address."""
        value = self.text(key)
        if not _HOST.fullmatch(value):
            raise InvalidInput(self.at(key), f"{value!r} is no host such as 10.0.0.7 or meter.local")
        return value.strip("[]")

    def port(self, default: int | None, key: str = "port") -> int:
        return self.whole(key, default, lowest=1, highest=65_535)

    def secret(self, key: str) -> str | None:
        """The name of a file in the folder `secrets` of the data folder, None when left out."""
        if key not in self:
            return None
        value = self.text(key)
        if not _SECRET.fullmatch(value) or ".." in value:
            raise InvalidInput(
                self.at(key),
                "must be the name of a file in the folder `secrets` of the data folder, of a-z, 0-9, . _ -",
            )
        return value

    def choice(self, key: str, choices: tuple[str, ...], default: str | None = None) -> str:
        if key not in self and default is not None:
            return default
        value = self.raw(key)
        if not isinstance(value, str) or value not in choices:
            raise InvalidInput(self.at(key), f"{value!r} is none of {', '.join(choices)}")
        return value

    def whole(self, key: str, default: int | None = None, *, lowest: int, highest: int) -> int:
        if key not in self and default is not None:
            return default
        value = self.raw(key)
        if isinstance(value, bool) or not isinstance(value, int):
            raise InvalidInput(self.at(key), f"must be a whole number, not {value!r}")
        if not lowest <= value <= highest:
            raise InvalidInput(self.at(key), f"must be from {lowest} to {highest}, not {value}")
        return value

    def factor(self, key: str, default: float = 1.0) -> float:
        """A number to multiply with, not 0. A negative one turns the sign (a sensor put on backwards)."""
        if key not in self:
            return default
        value = self.raw(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InvalidInput(self.at(key), f"must be a number, not {value!r}")
        if not 1e-9 <= abs(value) <= 1e9 or not math.isfinite(value):
            raise InvalidInput(self.at(key), f"must be a number other than 0, not {value!r}")
        return float(value)

    def flag(self, key: str, default: bool) -> bool:
        if key not in self:
            return default
        value = self.raw(key)
        if not isinstance(value, bool):
            raise InvalidInput(self.at(key), f"must be true or false, not {value!r}")
        return value

    def lines(self, key: str = "lines") -> dict[str, object]:
        """A mapping from L1, L2, L3 (one at least; a line that the meter has not is left out)."""
        each = Fields(self.raw(key), self.at(key), LINES)
        found = {line: each._given[line] for line in LINES if line in each}
        if not found:
            raise InvalidInput(self.at(key), "must have one of L1, L2, L3 at least")
        return found

    def checked(self, key: str, check: Callable[[str], object]) -> None:
        """InvalidInput at `key` when `check` raises a ValueError for its text."""
        try:
            check(self.text(key))
        except ValueError as error:
            raise InvalidInput(self.at(key), str(error)) from None
