"""What every input and output model is made of: strict types with bounds.

Nothing is guessed: a text is no number, 1 is no `true`, a field that does not exist is an error.
A text has no control characters (PostgreSQL keeps no NUL) and can be written as UTF-8; an
instant is RFC 3339 text with its zone; numbers fit the columns they go to.
"""

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import Path
from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    PlainValidator,
    WithJsonSchema,
)

LARGEST_ID = 2**63 - 1
LARGEST_AMPS = 100_000
LINES = ("L1", "L2", "L3")


class Input(BaseModel):
    """A body that is sent to us."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)

    def given(self) -> dict[str, Any]:
        """The fields that were sent, for an update of only those."""
        return {name: getattr(self, name) for name in sorted(self.model_fields_set)}


class Output(BaseModel):
    """A body that we send."""

    model_config = ConfigDict(from_attributes=True)


def absent() -> Any:
    """Default of a field that may be left out, but may not be null: `given` never shows it."""
    return None


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("has a line break or another character that cannot be shown; remove it")
    return text


def _text_instant(value: object) -> object:
    if isinstance(value, datetime):
        return value
    if not isinstance(value, str) or not _RFC3339.fullmatch(value):
        raise ValueError('give a date and time with its zone, e.g. "2026-11-02T18:00:00+01:00"')
    return value


def _utc(value: datetime) -> datetime:
    try:
        return value.astimezone(UTC)
    except (OverflowError, ValueError):
        raise ValueError("lies outside the years 1 to 9999") from None


def _send_instant(value: datetime) -> str:
    return value.astimezone(UTC).isoformat().replace("+00:00", "Z")


_RFC3339 = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(\.\d{1,9})?([Zz]|[+-]\d\d:\d\d)")

Text = Annotated[str, Field(min_length=1, max_length=120), AfterValidator(_printable)]
"""A name or label, one line of 1 to 120 characters."""

Note = Annotated[str, Field(max_length=254), AfterValidator(_printable)]
"""One line that may be empty."""

Instant = Annotated[
    datetime,
    BeforeValidator(_text_instant),
    Field(strict=False),
    AfterValidator(_utc),
    PlainSerializer(_send_instant, return_type=str),
    WithJsonSchema({"type": "string", "format": "date-time"}),
]
"""A moment; comes in with any zone, goes out in UTC."""

_IDENT = r"^[^\x00-\x1f\x7f/?#]{1,48}$"
"""Whatever an id may look like (a station's may have blanks in it); the services know more."""

Ident = Annotated[str, Field(pattern=_IDENT)]
"""An id in a body or a query."""

Id = Annotated[str, Path(pattern=_IDENT)]
"""An id in a path."""

Number = Annotated[int, Path(ge=1, le=LARGEST_ID)]
"""A counted id in a path."""

Amps = Annotated[float, Field(ge=0, le=LARGEST_AMPS)]
"""A current in A."""


def _lines(value: object) -> tuple[float, float, float]:
    """{"L1": 63, "L2": 63, "L3": 63} or 63 for all three; a line left out is not there (0)."""
    if isinstance(value, tuple) and len(value) == len(LINES):
        return (value[0], value[1], value[2])
    if not isinstance(value, Mapping):
        amps = _amps(None, value)
        return (amps, amps, amps)
    for key in value:
        if key not in LINES:
            raise ValueError(f"there is no line {key!r}; give L1, L2, L3 or one number for all")
    l1, l2, l3 = (_amps(line, value.get(line, 0)) for line in LINES)
    return (l1, l2, l3)


def _amps(line: str | None, value: object) -> float:
    where = "" if line is None else f"{line}: "
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{where}give a number of amperes, one for all lines or one for each of L1, L2, L3")
    if not 0 <= value <= LARGEST_AMPS:
        raise ValueError(f"{where}must be from 0 to {LARGEST_AMPS} A, not {value:g}")
    return float(value)


def _named(values: tuple[float, float, float]) -> dict[str, float]:
    return dict(zip(LINES, values, strict=True))


_AMPS = {"type": "number", "minimum": 0, "maximum": LARGEST_AMPS}

LineAmps = Annotated[
    tuple[float, float, float],
    PlainValidator(_lines),
    PlainSerializer(_named),
    WithJsonSchema(
        {
            "anyOf": [
                _AMPS,
                {
                    "type": "object",
                    "properties": dict.fromkeys(LINES, _AMPS),
                    "additionalProperties": False,
                },
            ]
        },
    ),
]
"""A current for each of the supply's lines, in A."""


def _named_or_null(values: tuple[float | None, float | None, float | None]) -> dict[str, float | None]:
    return dict(zip(LINES, values, strict=True))


PerLine = Annotated[
    tuple[float | None, float | None, float | None],
    PlainSerializer(_named_or_null),
    WithJsonSchema(
        {
            "type": "object",
            "properties": {line: {"type": ["number", "null"]} for line in LINES},
            "required": list(LINES),
        }
    ),
]
"""A value for each line, null where none was reported."""
