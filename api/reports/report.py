"""What every report is made of: columns, rows, totals and notes, as JSON and as CSV.

`workbook` writes it as XLSX, `chart` draws it.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from api.reports.chart import Chart

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
    """`title` is for people and says the unit; `unit` says it for programs ("" for what has none)."""

    name: str
    title: str
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """`about` says of what it is. `unknown` is the row of what belongs to nobody, None where everything
    belongs to something. `totals` are the sums of `items` and `unknown`, one per currency; what is
    in `open` is in no sum. `notes` say which rules were followed, and what is estimated or missing.
    """

    id: str
    title: str
    about: Mapping[str, str]
    columns: tuple[Column, ...]
    items: tuple[Row, ...]
    unknown: tuple[Row, ...]
    totals: tuple[Row, ...]
    notes: tuple[str, ...]
    open: tuple[Row, ...] = ()
    chart: Chart | None = None

    def of_month(self, month: str) -> "Report":
        """The report with the month said as it was asked for."""
        return replace(self, about={**self.about, "month": month})

    def as_json(self) -> dict[str, Any]:
        """JSON values; amounts are decimal text."""
        return {
            "report": self.id,
            "title": self.title,
            **self.about,
            "columns": [
                {"name": column.name, "title": column.title, "unit": column.unit} for column in self.columns
            ],
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
        return write_csv(
            ["row", *names],
            ([kind.value, *(row.get(name) for name in names)] for kind, row in self.rows()),
        )

    def rows(self) -> Iterator[tuple[RowKind, Row]]:
        """All rows as tables write them, each with what it is."""
        parts = (
            (RowKind.ITEM, self.items),
            (RowKind.UNKNOWN, self.unknown),
            (RowKind.TOTAL, self.totals),
            (RowKind.OPEN, self.open),
        )
        return ((kind, row) for kind, rows in parts for row in rows)


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
    text = plain(value)
    return f"'{text}" if text.startswith(FORMULA) else text


def plain(value: str | Mapping[str, int]) -> str:
    """A text, or counts by name as one."""
    return value if isinstance(value, str) else " ".join(f"{name}={count}" for name, count in value.items())
