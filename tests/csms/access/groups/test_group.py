"""Groups, and where their members stand when the supply is short."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from csms.access.groups.group import Group, Standing, check_group, standing
from csms.errors import InvalidInput

VANS = Group(
    id="vans",
    site_id="weavers-yard",
    name=" Delivery vans ",
    priority=2,
    weight=1.5,
    created_at=datetime(2026, 1, 1, tzinfo=UTC),
)


def test_a_member_stands_where_its_best_group_does() -> None:
    low, heavy = replace(VANS, priority=0, weight=9.0), replace(VANS, weight=2.0)
    assert standing([low, VANS, heavy]) == Standing(priority=2, weight=2.0)
    assert standing([]) == Standing(priority=0, weight=1.0)


def test_a_group_comes_out_in_its_final_form() -> None:
    assert check_group(replace(VANS, weight=1.23456)) == replace(VANS, name="Delivery vans", weight=1.235)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (replace(VANS, priority=-1), "priority"),
        (replace(VANS, priority=10), "priority"),
        (replace(VANS, weight=0), "weight"),
        (replace(VANS, weight=float("nan")), "weight"),
        (replace(VANS, name=""), "name"),
        (replace(VANS, id="-"), "id"),
    ],
)
def test_what_is_wrong_with_a_group_is_named(wrong: Group, field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check_group(wrong)
    assert refused.value.field == field
