from typing import Any

import pytest

from csms.power.installation import LINES, Evse
from csms.power.steering.picture import BayShown, BayState
from csms.power.steering.remarks import remarks


def bay(**more: Any) -> BayShown:
    facts: dict[str, Any] = {
        "evse": Evse("B1", 1),
        "state": BayState.CHARGING,
        "offer_a": 16.0,
        "confirmed": True,
        "target_a": 16.0,
        "counts_a": 16.0,
        "measured_a": None,
        "lines": LINES,
        "why": None,
        "waiting_since_s": None,
        "safe_in_silence": True,
        "rating_a": 32.0,
        "stored": True,
        **more,
    }
    return BayShown(**facts)


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"keeps": False}, "keeps no limit: counted at its full rating of 32 A"),
        (
            {"keeps": False, "kept_after_boot": False},
            "forgot its limits when it started anew: counted at its full rating of 32 A",
        ),
        ({"stored": False}, "refuses its fallback: counted at its full rating of 32 A"),
        ({"stored": None, "safe_in_silence": False}, "has not confirmed its fallback yet"),
        (
            {"follows": False},
            "takes one limit at a time: if nobody can hear us its car gets 0 A for up to an hour",
        ),
        ({"can_pause": False}, "takes no limit of 0 A: a car that waits here keeps 6 A"),
        ({"may_choose": True, "chooses": False}, "cannot put a car on another line, as was thought"),
        ({"derated_a": 12.5}, "gives 12.5 A at most for now: it may be hot"),
        ({"clock_off_s": 300.0}, "its clock is 300 s behind"),
        ({"clock_off_s": -40.0}, "its clock is 40 s ahead"),
        ({"moving": True}, "the car is paused to be put on another line"),
        ({"asleep": True}, "the car did not wake after its pause"),
    ],
)
def test_what_is_odd_is_said(facts: dict[str, Any], says: str) -> None:
    assert remarks(bay(**facts)) == (says,)


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"kept_after_boot": True, "can_pause": True, "follows": True, "chooses": True, "may_choose": True},
        {
            "stored": None,
            "safe_in_silence": False,
            "state": BayState.UNREACHABLE,
        },  # it cannot have, and its state says so
        {"chooses": False},  # nobody thought it could
    ],
)
def test_nothing_is_said_where_all_is_well(facts: dict[str, Any]) -> None:
    assert remarks(bay(**facts)) == ()
