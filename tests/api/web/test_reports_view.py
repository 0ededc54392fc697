"""Reports as a page shows them, as values."""

from decimal import Decimal

from api.reports.kind import Ask, Parameter
from api.reports.report import Cell, Column, Report
from api.web import reports_view
from api.web.reports_view import Choice, Line

COLUMNS = (
    Column("id", "Id"),
    Column("name", "Name"),
    Column("energy_wh", "Energy, Wh", "Wh"),
    Column("connected_s", "Time plugged in, s", "s"),
    Column("cost", "Cost", "currency"),
    Column("unpriced", "Sessions without a price"),
    Column("marks", "Marks"),
)


def report(count: int = 1) -> Report:
    row: dict[str, Cell] = {
        "id": "a",
        "name": "Flat 12",
        "energy_wh": 1_234_567,
        "connected_s": 5400,
        "cost": Decimal("1234.50"),
    }
    rest: dict[str, Cell] = {"unpriced": 0, "marks": {}}
    return Report(
        id="x",
        title="X",
        about={},
        columns=COLUMNS,
        items=tuple({**row, **rest} for _ in range(count)),
        unknown=({"id": "", "name": "Without a member", "energy_wh": 0, "cost": None},),
        totals=({"id": "", "name": "Total", "energy_wh": 1_234_567},),
        notes=(),
    )


def test_figures_are_for_people_and_empty_columns_left_out() -> None:
    made = reports_view.table(report())
    assert [(head.title, head.number) for head in made.heads] == [
        ("Name", False),
        ("Energy, kWh", True),
        ("Time plugged in, h", True),
        ("Cost", True),
    ]
    assert made.lines[0] == Line("item", ("Flat 12", "1\u202f234.57", "1.5", "1\u202f234.50"))
    assert made.lines[1] == Line("unknown", ("Without a member", "0.00", "", ""))
    assert made.lines[2].kind == "total"


def test_a_long_table_is_cut_but_its_sums_stay() -> None:
    made = reports_view.table(report(reports_view.MOST_ROWS + 7))
    assert made.left_out == 7
    assert [line.kind for line in made.lines[-2:]] == ["unknown", "total"]
    assert len(made.lines) == reports_view.MOST_ROWS + 2


def test_parameters_become_fields() -> None:
    by = Parameter(
        name="by", title="By", ask=Ask.CHOICE, about="what", choices=("member", "hour"), default="member"
    )
    assert reports_view.field(by, "", {}).choices == (
        Choice("member", "member", True),
        Choice("hour", "hour", False),
    )
    assert reports_view.field(by, "hour", {}).choices[1].chosen
    rate = Parameter(name="rate", title="Rate", ask=Ask.NUMBER, about="what", required=True)
    assert reports_view.field(rate, "0.3", {}) == reports_view.FormField(
        "rate", "Rate", "what", "0.3", True, ()
    )
    member = Parameter(name="member", title="Member", ask=Ask.MEMBER, about="whose")
    assert reports_view.field(member, "m1", {"m1": "Flat 1"}).choices == (
        Choice("", "all", False),
        Choice("m1", "Flat 1", True),
    )


def test_addresses_of_files_are_quoted() -> None:
    asked = {"month": "2026-11", "by": "member", "circuit": "a&b", "from": ""}
    assert reports_view.address("load", "the yard", asked, "csv") == (
        "/v1/reports/load?site=the+yard&month=2026-11&by=member&circuit=a%26b&format=csv"
    )
