"""One thing has one owner at a time, and whose it was is known for every instant."""

from datetime import UTC, datetime

import pytest

from csms.access.ownerships.ownership import Ownership, Thing, changes, check_ownership, owner_at
from csms.errors import InvalidInput

JANUARY = datetime(2026, 1, 1, tzinfo=UTC)
FEBRUARY = datetime(2026, 2, 1, tzinfo=UTC)
MARCH = datetime(2026, 3, 1, tzinfo=UTC)
CARD = Thing(token_id="tok-1")


def owns(
    member: str,
    from_at: datetime | None = None,
    to_at: datetime | None = None,
    thing: Thing = CARD,
    id: str = "own-1",
) -> Ownership:
    return Ownership(
        id=id,
        site_id="yard",
        thing=thing,
        member_id=member,
        from_at=from_at,
        to_at=to_at,
        created_at=JANUARY,
    )


def test_one_follows_another_without_a_hole() -> None:
    first, second = owns("a", None, FEBRUARY), owns("b", FEBRUARY, None, id="own-2")
    assert check_ownership(second, [first]) == second
    history = [first, second]
    assert owner_at(history, JANUARY) == (True, "a")
    assert owner_at(history, FEBRUARY) == (True, "b")
    assert changes(history, JANUARY, MARCH) == (FEBRUARY,)
    assert changes(history, FEBRUARY, MARCH) == ()


@pytest.mark.parametrize(
    ("from_at", "to_at"), [(None, None), (JANUARY, None), (None, MARCH), (JANUARY, MARCH), (FEBRUARY, MARCH)]
)
def test_two_owners_at_a_time_are_refused_with_the_field(
    from_at: datetime | None, to_at: datetime | None
) -> None:
    there = owns("a", JANUARY, None)
    with pytest.raises(InvalidInput, match=r"from_at: token tok-1 belongs to a .*end that one first"):
        check_ownership(owns("b", from_at, to_at, id="own-2"), [there])


def test_a_whole_station_meets_each_of_its_evses_and_no_other_station() -> None:
    whole, one, two = Thing(station_id="bay", evse=0), Thing(station_id="bay", evse=1), Thing(None, "bay", 2)
    assert whole.meets(one)
    assert two.meets(whole)
    assert not one.meets(two)
    assert not Thing(station_id="yard", evse=0).meets(one)
    assert not CARD.meets(whole)
    with pytest.raises(InvalidInput, match="from_at"):
        check_ownership(owns("b", thing=one, id="own-2"), [owns("a", thing=whole)])
    assert check_ownership(owns("b", thing=two, id="own-2"), [owns("a", thing=one)]).member_id == "b"


def test_the_time_before_a_history_is_not_known_and_a_hole_in_it_is_nobodys() -> None:
    history = [owns("a", FEBRUARY, MARCH)]
    assert owner_at(history, JANUARY) == (False, None)
    assert owner_at(history, MARCH) == (True, None)
    assert owner_at([], MARCH) == (False, None)


@pytest.mark.parametrize(
    ("new", "field"),
    [
        (owns("a", FEBRUARY, JANUARY), "to_at"),
        (owns("a", datetime(2026, 1, 1), None), "from_at"),  # noqa: DTZ001
        (owns("a", thing=Thing()), "token_id"),
        (owns("a", thing=Thing("tok-1", "bay")), "token_id"),
        (owns("a", thing=Thing("tok-1", None, 1)), "evse"),
        (owns("a", thing=Thing(None, "bay", -1)), "evse"),
        (owns("a", id="No Id"), "id"),
    ],
)
def test_what_makes_no_sense_is_named(new: Ownership, field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check_ownership(new, [])
    assert refused.value.field == field


def test_a_station_without_an_evse_is_the_whole_of_it_and_times_become_utc() -> None:
    made = check_ownership(owns("a", FEBRUARY, thing=Thing(station_id="bay")), [])
    assert made.thing == Thing(None, "bay", 0)
    assert str(made.thing) == "space bay"
    assert str(Thing(None, "bay", 2)) == "space bay/2"
