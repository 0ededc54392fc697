"""What reports are asked: checked before a query is made."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from api.reports import REPORTS
from api.reports.kind import Ask, Asked, Parameter, ReportKind
from api.reports.period import Period
from api.reports.report import Report
from csms.errors import InvalidInput
from csms.sites.model import Site, System

START = datetime(2026, 11, 1, tzinfo=UTC)
MONTH = Period(START, START + timedelta(days=30))
YARD = Site(
    id="yard",
    name="Yard",
    time_zone="Europe/Brussels",
    currency="EUR",
    system=System.TN_400,
    active=True,
    created_at=START,
)


async def nothing(central: Any, asked: Asked) -> Report:
    raise NotImplementedError


KIND = ReportKind(
    id="kind",
    title="Kind",
    about="",
    run=nothing,
    columns=(),
    parameters=(
        Parameter(name="by", title="By", ask=Ask.CHOICE, about="", choices=("a", "b"), default="a"),
        Parameter(name="rate", title="Rate", ask=Ask.NUMBER, about="what is paid", required=True),
        Parameter(name="member", title="Member", ask=Ask.MEMBER, about=""),
    ),
    longest_days=31,
)


def test_defaults_are_filled_in_and_numbers_read() -> None:
    asked = KIND.asked(YARD, MONTH, {"rate": "0.30", "member": None})
    assert asked.values == {"by": "a", "rate": "0.30"}
    assert (asked.number("rate"), asked.number("member")) == (Decimal("0.30"), None)
    assert asked.about == {
        "site_id": "yard",
        "site": "Yard",
        "time_zone": "Europe/Brussels",
        "from": "2026-11-01T00:00:00+00:00",
        "to": "2026-12-01T00:00:00+00:00",
        "by": "a",
        "rate": "0.30",
    }


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"rate": "1", "by": "c"}, "by"),
        ({}, "rate"),
        ({"rate": ""}, "rate"),
        ({"rate": "a lot"}, "rate"),
        ({"rate": "-1"}, "rate"),
        ({"rate": "NaN"}, "rate"),
        ({"rate": "1e3"}, "rate"),
        ({"rate": "1", "colour": "red"}, "colour"),
    ],
)
def test_what_is_wrong_is_named(given: dict[str, str], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        KIND.asked(YARD, MONTH, given)
    assert refused.value.field == field


def test_a_period_that_is_too_long_is_refused() -> None:
    with pytest.raises(InvalidInput) as refused:
        KIND.asked(YARD, Period(START, START + timedelta(days=32)), {"rate": "1"})
    assert refused.value.field == "to"


@pytest.mark.parametrize("kind", REPORTS, ids=lambda kind: kind.id)
def test_every_report_says_what_it_is(kind: ReportKind) -> None:
    assert kind.title
    assert kind.about.endswith(".")
    names = [column.name for column in kind.columns]
    assert len(names) == len(set(names))
    assert names[0] == "id"
    for column in kind.columns:
        unit = {"wh": "Wh", "s": "s", "a": "A", "w": "W", "g": "g", "percent": "%"}.get(
            column.name.split("_")[-1]
        )
        assert unit is None or column.unit == unit, f"{column.name} says its unit"
    for parameter in kind.parameters:
        assert parameter.about
        assert parameter.default is None or parameter.default in parameter.choices


def test_ids_are_unique() -> None:
    assert len({kind.id for kind in REPORTS}) == len(REPORTS) == 8
