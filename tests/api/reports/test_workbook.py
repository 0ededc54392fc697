"""The XLSX, read back by openpyxl, which is not ours."""

import io
from decimal import Decimal

from openpyxl import load_workbook

from api.reports.report import Column, Report
from api.reports.workbook import as_xlsx

REPORT = Report(
    id="energy",
    title="Energy",
    about={"site": "=Weavers' Yard", "from": "2026-10-31T23:00:00+00:00", "to": "2026-11-30T23:00:00+00:00"},
    columns=(
        Column("name", "Name"),
        Column("energy_wh", "Energy, Wh", "Wh"),
        Column("cost", "Cost"),
        Column("marks", "Marks"),
    ),
    items=(
        {
            "name": '=HYPERLINK("http://x")',
            "energy_wh": 12_345_678,
            "cost": Decimal("12.30"),
            "marks": {"clock_off": 2},
        },
        {"name": "+49", "energy_wh": None, "cost": None, "marks": {}},
    ),
    unknown=(),
    totals=({"name": "Total", "energy_wh": 12_345_678, "cost": Decimal("12.30")},),
    notes=("@note",),
)


def test_texts_are_texts_and_figures_are_figures() -> None:
    book = load_workbook(io.BytesIO(as_xlsx(REPORT)))
    rows = [list(row) for row in book["Report"].iter_rows()]
    assert [cell.value for cell in rows[0]] == ["Row", "Name", "Energy, Wh", "Cost", "Marks"]
    first = rows[1]
    assert [cell.value for cell in first] == [
        "item",
        '=HYPERLINK("http://x")',
        12_345_678,
        12.3,
        "clock_off=2",
    ]
    assert [cell.data_type for cell in first] == ["s", "s", "n", "n", "s"], (
        "no formula, whatever it begins with"
    )
    assert [cell.value for cell in rows[2]][:4] == ["item", "+49", None, None]
    assert rows[3][0].value == "total"
    notes = [[cell.value for cell in row] for row in book["Notes"].iter_rows()]
    assert ["Note", "@note"] in notes
    assert ["site", "=Weavers' Yard"] in notes
    assert all(cell.data_type == "s" for row in book["Notes"].iter_rows() for cell in row)


def test_the_same_report_is_the_same_file() -> None:
    assert as_xlsx(REPORT) == as_xlsx(REPORT)
