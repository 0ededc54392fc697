"""Quarter hours by UTC, also on the days on which the clocks are changed."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from csms.power.planner.slots import slots_from

OSLO = ZoneInfo("Europe/Oslo")


def test_the_first_is_what_is_left_of_the_quarter_that_runs() -> None:
    slots = slots_from(datetime(2026, 11, 2, 18, 5, tzinfo=UTC), 4)
    assert [f"{edge:%H:%M}" for edge in slots.edges] == ["18:05", "18:15", "18:30", "18:45", "19:00"]
    assert slots.hours == pytest.approx((1 / 6, 0.25, 0.25, 0.25))
    assert len(slots) == 4


def test_seconds_before_the_next_quarter_no_slot_begins_that_nobody_could_act_in() -> None:
    slots = slots_from(datetime(2026, 11, 2, 18, 14, 30, tzinfo=UTC), 2)
    assert [f"{edge:%H:%M:%S}" for edge in slots.edges] == ["18:14:30", "18:30:00", "18:45:00"]


@pytest.mark.parametrize(
    ("midnight", "quarters"),
    [
        (datetime(2026, 3, 29, tzinfo=OSLO), 92),
        (datetime(2026, 10, 25, tzinfo=OSLO), 100),
        (datetime(2026, 11, 2, tzinfo=OSLO), 96),
    ],
)
def test_a_day_of_the_sites_clock_has_as_many_quarters_as_it_has(midnight: datetime, quarters: int) -> None:
    """Clocks in the European Union change on the last Sundays of March and October (Directive 2000/84/EC)."""
    following = (midnight + timedelta(days=1)).astimezone(UTC)
    slots = slots_from(midnight, 120)
    assert slots.whole_before(following) == quarters
    assert sum(slots.hours[:quarters]) == pytest.approx(quarters / 4)


def test_what_is_over_by_then() -> None:
    slots = slots_from(datetime(2026, 11, 2, 18, 0, tzinfo=UTC), 4)
    assert slots.whole_before(datetime(2026, 11, 2, 18, 29, tzinfo=UTC)) == 1
    assert slots.whole_before(datetime(2026, 11, 2, 18, 30, tzinfo=UTC)) == 2
    assert slots.whole_before(datetime(2026, 11, 3, tzinfo=UTC)) == 4
    assert slots.edges_s[0] == datetime(2026, 11, 2, 18, 0, tzinfo=UTC).timestamp()
