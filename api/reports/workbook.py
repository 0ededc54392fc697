"""A report as XLSX: the table on one sheet, what is to be known of it on another.

Texts are written as texts, whatever they begin with, so that none becomes a formula. The same report
gives the same bytes: the file says the end of its period as when it was made.
"""

import io
from datetime import datetime
from decimal import Decimal
from typing import Any

from api.reports.report import Cell, Report, plain
from csms.documents.extra import library

WIDEST = 60


def as_xlsx(report: Report) -> bytes:
    """The file. Raises InvalidInput when the library that writes it is not installed."""
    written = io.BytesIO()
    book = library("xlsxwriter").Workbook(written, {"in_memory": True, "strings_to_formulas": False})
    book.set_properties(
        {
            "title": report.title,
            "created": datetime.fromisoformat(report.about["to"]).replace(tzinfo=None, microsecond=0),
        }
    )
    bold = book.add_format({"bold": True, "bottom": 1})
    strong = book.add_format({"bold": True})
    table = book.add_worksheet("Report")
    titles = ["Row", *(column.title for column in report.columns)]
    widths = [len(title) for title in titles]
    for place, title in enumerate(titles):
        table.write_string(0, place, title, bold)
    for number, (kind, row) in enumerate(report.rows(), start=1):
        style = strong if kind == "total" else None
        cells = [kind.value, *(row.get(column.name) for column in report.columns)]
        for place, cell in enumerate(cells):
            widths[place] = max(widths[place], _write(table, number, place, cell, style))
    for place, width in enumerate(widths):
        table.set_column(place, place, min(width + 2, WIDEST))
    table.freeze_panes(1, 0)
    notes = book.add_worksheet("Notes")
    lines = [("Report", report.title), *report.about.items(), *(("Note", note) for note in report.notes)]
    for number, (name, text) in enumerate(lines):
        notes.write_string(number, 0, name, strong)
        notes.write_string(number, 1, text)
    notes.set_column(0, 0, 16)
    notes.set_column(1, 1, 110)
    book.close()
    return written.getvalue()


def _write(table: Any, number: int, place: int, cell: Cell, style: Any) -> int:
    """Write one cell; how many characters wide it is."""
    if cell is None:
        return 0
    if isinstance(cell, int | Decimal):
        table.write_number(number, place, cell, style)
        return len(str(cell))
    text = plain(cell)
    table.write_string(number, place, text, style)
    return len(text)
