"""What every report is made of: columns, rows, totals and notes, as JSON and as CSV."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

Cell = str | int | Decimal | None | Mapping[str, int]
Row = Mapping[str, Cell]
"""Column name -> value. Amounts are Decimal with all their digits; a mapping counts by name."""

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What a spreadsheet may take for the beginning of a formula (OWASP, CSV Injection)."""


class RowKind(StrEnum):
    """The first column of the CSV, so that a sum over rows counts nothing twice."""

    ITEM = "item"
    UNKNOWN = "unknown"
    TOTAL = "total"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Column:
    """`title` is for people and says the unit."""

    name: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """`about` says of what it is. `unknown` is the row of what belongs to nobody, None where everything
    belongs to something. `totals` are the sums of `items` and `unknown`, one per currency; what is
    in `open` is in no sum.
    """

    id: str
    title: str
    about: Mapping[str, str]
    columns: tuple[Column, ...]
    items: tuple[Row, ...]
    unknown: tuple[Row, ...]
    totals: tuple[Row, ...]
    open: tuple[Row, ...]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """JSON values; amounts are decimal text."""
        return {
            "report": self.id,
            "title": self.title,
            **self.about,
            "items": [_values(row) for row in self.items],
            "unknown": [_values(row) for row in self.unknown],
            "totals": [_values(row) for row in self.totals],
            "open_sessions": [_values(row) for row in self.open],
            "notes": list(self.notes),
        }

    def as_csv(self) -> str:
        """RFC 4180 with a header row and a decimal point. Texts that a spreadsheet would take for a
        formula begin with an apostrophe; our own figures do not."""
        names = [column.name for column in self.columns]
        parts = (
            (RowKind.ITEM, self.items),
            (RowKind.UNKNOWN, self.unknown),
            (RowKind.TOTAL, self.totals),
            (RowKind.OPEN, self.open),
        )
        return write_csv(
            ["row", *names],
            ([kind.value, *(row.get(name) for name in names)] for kind, rows in parts for row in rows),
        )


def write_csv(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """The table as text."""
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerow(header)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return written.getvalue()


def _values(row: Row) -> dict[str, Any]:
    return {name: f"{value:f}" if isinstance(value, Decimal) else value for name, value in row.items()}


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, Mapping):
        value = " ".join(f"{name}={count}" for name, count in value.items())
    return f"'{value}" if value.startswith(FORMULA) else value
