"""Whose tariff, where and when."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.tariffs.assignment import Assignment, Choice, Occasion, choose
from csms.tariffs.tariff import Tariff

START = datetime(2026, 3, 1, 18, tzinfo=UTC)
Make = Callable[..., Tariff]


def given(number: str, **fields: Any) -> Assignment:
    return Assignment(id=number, tariff_id=f"tariff-{number}", site_id="yard", **fields)


SITE = given("site")
STATION = given("station", station_id="van-1")
VANS = given("vans", group_id="vans")
VANS_THERE = given("vans-there", group_id="vans", station_id="van-1")
GUESTS = given("guests", guests=True)
ALL = (SITE, STATION, VANS, VANS_THERE, GUESTS)


@pytest.fixture
def pick(tariff: Make) -> Callable[..., Choice]:
    def picked(*assignments: Assignment, ended: frozenset[str] = frozenset(), **occasion: Any) -> Choice:
        tariffs = {
            a.tariff_id: tariff(
                (None, ("FLAT", 1)),
                **({"end_date_time": "2026-03-01T18:00:00Z"} if a.id in ended else {}),
            )
            for a in assignments
        }
        where = {"start": START, "site_id": "yard", "station_id": "bay-7", **occasion}
        return choose(assignments, tariffs, Occasion(**where))

    return picked


@pytest.mark.parametrize(
    ("occasion", "winner"),
    [
        ({}, SITE),
        ({"station_id": "van-1"}, STATION),
        ({"group_ids": frozenset({"vans"})}, VANS),
        ({"group_ids": frozenset({"vans"}), "station_id": "van-1"}, VANS_THERE),
        ({"guest": True}, GUESTS),
        ({"guest": True, "station_id": "van-1"}, GUESTS),
        ({"group_ids": frozenset({"flats"})}, SITE),
        ({"site_id": "elsewhere"}, None),
    ],
    ids=[
        "site",
        "station",
        "group",
        "group there",
        "guest",
        "whom outweighs where",
        "no such group",
        "elsewhere",
    ],
)
def test_the_most_specific_wins(
    pick: Callable[..., Choice], occasion: dict[str, Any], winner: Assignment | None
) -> None:
    assert pick(*ALL, **occasion).assignment is winner
    assert pick(*reversed(ALL), **occasion).assignment is winner, "in any order"


def test_validity_is_that_of_the_session_s_start(pick: Callable[..., Choice]) -> None:
    old = given("old", valid_until=START)
    new = given("new", valid_from=START)
    assert pick(old, new).assignment is new
    assert pick(old, new, start=START - timedelta(seconds=1)).assignment is old
    assert pick(old).assignment is None


def test_between_equals_the_later_one(pick: Callable[..., Choice]) -> None:
    first = given("a", valid_from=START - timedelta(days=9))
    second = given("b", valid_from=START - timedelta(days=1))
    assert pick(first, second, given("c")).assignment is second
    assert pick(given("y"), given("x")).assignment == given("x")


def test_a_lapsed_tariff_gives_way_and_is_named(pick: Callable[..., Choice]) -> None:
    choice = pick(SITE, VANS, ended=frozenset({"vans"}), group_ids=frozenset({"vans"}))
    assert choice.assignment is SITE
    assert choice.reason == (
        "tariff tariff-site for anyone at site yard, the only one that fits; "
        "tariff tariff-vans for group vans at site yard is not valid then"
    )


def test_reasons(pick: Callable[..., Choice]) -> None:
    assert pick(SITE, GUESTS, guest=True).reason == (
        "tariff tariff-guests for guests at site yard, before 1 less specific or older"
    )
    assert pick(STATION, station_id="van-1").reason.startswith("tariff tariff-station for anyone at station")
    assert pick().reason == "no tariff is assigned that is valid at 2026-03-01T18:00:00+00:00"


def test_a_tariff_nobody_knows_is_passed_over() -> None:
    occasion = Occasion(start=START, site_id="yard", station_id="bay-7")
    assert choose([SITE], {}, occasion).assignment is None


def test_guests_are_in_no_group() -> None:
    with pytest.raises(InvalidInput, match="guests"):
        given("both", group_id="vans", guests=True)
