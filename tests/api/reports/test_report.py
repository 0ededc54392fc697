"""Tables as JSON and as CSV."""

import csv
import io
import json
from decimal import Decimal

import pytest

from api.reports.report import Column, Report, write_csv

REPORT = Report(
    id="month",
    title="Energy and cost of a month",
    about={"month": "2026-11"},
    columns=(Column("id", "Id"), Column("name", "Name"), Column("cost", "Cost"), Column("marks", "Marks")),
    items=({"id": "a", "name": "Flat 12, left", "cost": Decimal("5.00"), "marks": {"estimated": 2}},),
    unknown=({"id": "", "name": "=HYPERLINK", "cost": Decimal("-0.10"), "marks": {}},),
    totals=({"id": "", "name": "Total", "cost": Decimal("4.90"), "marks": {}},),
    open=({"id": "7", "name": "YARD-01", "evse": 1},),
    notes=("A rule.",),
)


def test_json_keeps_the_digits_of_amounts() -> None:
    document = json.loads(json.dumps(REPORT.as_json()))
    assert document["items"][0] == {
        "id": "a",
        "name": "Flat 12, left",
        "cost": "5.00",
        "marks": {"estimated": 2},
    }
    assert document["month"] == "2026-11"
    assert document["open_sessions"] == [{"id": "7", "name": "YARD-01", "evse": 1}]
    assert document["notes"] == ["A rule."]


def test_csv_has_a_header_and_says_what_each_row_is() -> None:
    rows = list(csv.reader(io.StringIO(REPORT.as_csv())))
    assert rows == [
        ["row", "id", "name", "cost", "marks"],
        ["item", "a", "Flat 12, left", "5.00", "estimated=2"],
        ["unknown", "", "'=HYPERLINK", "-0.10", ""],
        ["total", "", "Total", "4.90", ""],
        ["open", "7", "YARD-01", "", ""],
    ]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1"])
def test_a_text_never_becomes_a_formula(text: str) -> None:
    """The beginnings that OWASP's page on CSV injection lists."""
    [[cell]] = list(csv.reader(io.StringIO(write_csv([], [[text]]).lstrip("\r\n"), newline="")))
    assert cell == "'" + text


def test_what_needs_quotes_has_them() -> None:
    """RFC 4180: line breaks, quotes and commas stand in quotes, a quote is doubled."""
    assert write_csv(["a", "b"], [['x "y"', "1,5"]]) == 'a,b\r\n"x ""y""","1,5"\r\n'
