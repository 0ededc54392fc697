"""Written by xlsxwriter and csv, read back by openpyxl, which is neither."""

import csv
import io
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pytest

from csms.documents.rent_ledger import Table
from csms.documents.spreadsheet import COMMANDS, as_csv, as_xlsx

EVIL = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", '=HYPERLINK("http://x.example","y")')
TABLE = Table(
    ("Member", "Amount", "Issued", "=Head"),
    (
        ('Flat 12; "A", B', Decimal("-1234.50"), date(2026, 2, 3), "plain"),
        *((text, Decimal("0.00"), None, "") for text in EVIL),
        ("Ærø", Decimal("1000"), date(2026, 12, 31), "https://x.example"),
    ),
)


def test_csv_keeps_numbers_and_defuses_texts() -> None:
    rows = list(csv.reader(io.StringIO(as_csv(TABLE), newline="")))
    assert rows[0] == ["Member", "Amount", "Issued", "'=Head"]
    assert rows[1] == ['Flat 12; "A", B', "-1234.50", "2026-02-03", "plain"]
    assert [row[0] for row in rows[2:9]] == [f"'{text}" for text in EVIL]
    assert not [cell for row in rows for n, cell in enumerate(row) if n != 1 and cell.startswith(COMMANDS)]


def test_csv_as_continental_programs_take_it() -> None:
    lines = as_csv(TABLE, separator=";", decimal_sign=",").split("\r\n")
    assert lines[1] == '"Flat 12; ""A"", B";-1234,50;2026-02-03;plain'
    assert lines[9] == "Ærø;1000;2026-12-31;https://x.example"


def test_xlsx_comes_back_with_numbers_dates_and_no_formula() -> None:
    book = openpyxl.load_workbook(io.BytesIO(as_xlsx(TABLE, date(2026, 2, 3))))
    sheet = book.active
    assert sheet is not None
    rows = list(sheet.iter_rows())
    assert [cell.value for cell in rows[0]] == ["Member", "Amount", "Issued", "=Head"]
    assert [cell.data_type for cell in rows[0]] == ["s"] * 4
    assert rows[1][1].value == -1234.5
    assert rows[1][1].number_format == "0.00"
    assert rows[1][2].value == datetime(2026, 2, 3)  # noqa: DTZ001 - a spreadsheet knows no zone
    assert rows[9][1].number_format == "0"
    shown = [str(row[0].value) for row in rows[2:9]]
    assert [text.replace("_x000D_", "\r").replace("_x0009_", "\t") for text in shown] == list(EVIL)
    assert {cell.data_type for row in rows for cell in row} <= {"s", "n", "d"}, "nothing is a formula"
    assert not [cell for row in rows for cell in row if cell.hyperlink]


@pytest.mark.parametrize("day", [date(2026, 2, 3)])
def test_equal_tables_are_equal_files(day: date) -> None:
    assert as_xlsx(TABLE, day) == as_xlsx(TABLE, day)
