"""A table as CSV (RFC 4180) or XLSX, safe to open: a name that begins with "=" stays a name."""

import csv
import io
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from csms.documents.extra import library
from csms.documents.rent_ledger import Cell, Table

COMMANDS = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula (OWASP, "CSV injection")."""

SHEET = "Statements"
WIDEST = 40


def as_csv(table: Table, *, separator: str = ",", decimal_sign: str = ".") -> str:
    """The table as text with CRLF. Texts that could be formulas get an apostrophe; numbers do not."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\r\n")
    writer.writerow([_harmless(head) for head in table.heads])
    writer.writerows([_text(cell, decimal_sign) for cell in row] for row in table.rows)
    return out.getvalue()


def _text(cell: Cell, decimal_sign: str) -> str:
    if cell is None:
        return ""
    if isinstance(cell, Decimal):
        return f"{cell:f}".replace(".", decimal_sign)
    return cell.isoformat() if isinstance(cell, date) else _harmless(cell)


def _harmless(text: str) -> str:
    return f"'{text}" if text.startswith(COMMANDS) else text


def as_xlsx(table: Table, made_on: date) -> bytes:
    """The table as a workbook that says it was made on `made_on`, so that equal tables are equal files."""
    xlsxwriter: Any = library("xlsxwriter")
    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(out, options) as book:
        book.set_properties({"created": datetime.combine(made_on, time(12))})
        sheet = book.add_worksheet(SHEET)
        head = book.add_format({"bold": True, "bottom": 1})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        numbers = {
            digits: book.add_format({"num_format": "0." + "0" * digits if digits else "0"})
            for digits in {_digits(cell) for row in table.rows for cell in row if isinstance(cell, Decimal)}
        }
        for x, name in enumerate(table.heads):
            sheet.write_string(0, x, name, head)
            longest = max((len(_text(row[x], ".")) for row in table.rows), default=0)
            sheet.set_column(x, x, min(WIDEST, max(len(name), longest) + 2))
        for y, row in enumerate(table.rows, 1):
            for x, cell in enumerate(row):
                if isinstance(cell, Decimal):
                    sheet.write_number(y, x, cell, numbers[_digits(cell)])
                elif isinstance(cell, date):
                    sheet.write_datetime(y, x, datetime.combine(cell, time()), day)
                elif cell is not None:
                    # Never `write`: it makes a formula of a text that begins with "=".
                    sheet.write_string(y, x, cell)
        sheet.freeze_panes(1, 0)
    return out.getvalue()


def _digits(number: Decimal) -> int:
    return max(0, -int(number.as_tuple().exponent))
