"""A report as a page shows it: figures for people, and only the columns that say something. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from urllib.parse import urlencode

from api.reports.kind import Ask, Parameter
from api.reports.report import Cell, Column, Report, Row, RowKind, plain

MOST_ROWS = 400
"""Rows that a page shows; the files have all."""
THIN = "\u202f"
_PEOPLE = {"Wh": ("kWh", 1000, 2), "s": ("h", 3600, 1), "g": ("kg", 1000, 2)}
"""Unit -> what people read, how much of it, decimals."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Something to choose from; `chosen` is what was asked for."""

    value: str
    text: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class FormField:
    """A parameter of a report as a form asks for it. Without `choices` it is typed."""

    name: str
    title: str
    about: str
    value: str
    required: bool
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Head:
    title: str
    number: bool


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the table: what it is, and its cells as text."""

    kind: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """`left_out` rows are in the files only."""

    heads: tuple[Head, ...]
    lines: tuple[Line, ...]
    left_out: int


def table(report: Report) -> Table:
    """The report's rows; a column that is empty or nought all over is left out, and so is an id beside
    a name."""
    rows = list(report.rows())
    shown = [column for column in report.columns if _says_something(column, report.columns, rows)]
    heads = tuple(Head(_title(column), _is_number(column, rows)) for column in shown)
    items = [row for row in rows if row[0] is RowKind.ITEM]
    left_out = max(0, len(items) - MOST_ROWS)
    if left_out:
        rows = [*items[:MOST_ROWS], *(row for row in rows if row[0] is not RowKind.ITEM)]
    lines = tuple(
        Line(kind.value, tuple(_text(column, row.get(column.name)) for column in shown)) for kind, row in rows
    )
    return Table(heads, lines, left_out)


def field(parameter: Parameter, value: str, names: Mapping[str, str]) -> FormField:
    """The parameter as a form asks for it; `names` are ids to choose from, for those that are one."""
    if parameter.ask is Ask.CHOICE:
        choices = [Choice(each, each, each == (value or parameter.default)) for each in parameter.choices]
    elif parameter.ask is Ask.NUMBER:
        choices = []
    else:
        choices = [Choice("", "the incoming line" if parameter.ask is Ask.CIRCUIT else "all", not value)]
        choices += [Choice(id, name, id == value) for id, name in names.items()]
    return FormField(
        parameter.name, parameter.title, parameter.about, value, parameter.required, tuple(choices)
    )


def address(name: str, site_id: str, asked: Mapping[str, str], format: str) -> str:
    """Where the report is to be had as a file."""
    given = {key: value for key, value in asked.items() if value}
    return f"/v1/reports/{name}?{urlencode({'site': site_id, **given, 'format': format})}"


def _says_something(column: Column, columns: Sequence[Column], rows: Sequence[tuple[RowKind, Row]]) -> bool:
    if column.name == "id" and any(other.name == "name" for other in columns):
        return False
    return any(row.get(column.name) not in (None, "", 0, {}) for _, row in rows) or column.name in (
        "id",
        "name",
        "energy_wh",
    )


def _title(column: Column) -> str:
    if column.unit in _PEOPLE:
        return column.title.removesuffix(column.unit) + _PEOPLE[column.unit][0]
    return column.title


def _is_number(column: Column, rows: Sequence[tuple[RowKind, Row]]) -> bool:
    return any(isinstance(row.get(column.name), int | Decimal) for _, row in rows)


def _text(column: Column, cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, int | Decimal):
        if column.unit in _PEOPLE:
            _, factor, digits = _PEOPLE[column.unit]
            return f"{Decimal(cell) / factor:,.{digits}f}".replace(",", THIN)
        return f"{cell:,}".replace(",", THIN) if isinstance(cell, int) else f"{cell:,f}".replace(",", THIN)
    return plain(cell)
