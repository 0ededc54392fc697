"""The plan's reasons in words, in the site's own time, with circuits by name."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from csms.power.installation import Evse, Line
from csms.power.planner.forecast import Basis
from csms.power.planner.gather import Left
from csms.power.planner.need import Goal, Source
from csms.power.planner.schedule import CarSchedule, Reason, Schedule, Shortfall, Why
from csms.power.planner.wording import (
    BASIS,
    FROM,
    LEFT,
    assumptions,
    plan_assumptions,
    reason_text,
    shortfall_text,
)

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2026, 11, 2, 22, 0, tzinfo=UTC)
NAMES = {"main": "Supply"}


@pytest.mark.parametrize("why", list(Why))
def test_every_reason_has_words(why: Why) -> None:
    reason = Reason(why=why, circuit="main", line=Line.L2, until=NOW + timedelta(hours=2))
    text = reason_text(reason, NAMES, OSLO)
    assert text.endswith(".")
    assert "None" not in text
    assert ("01:00" in text) == why.value.startswith("waits")


def test_some_of_them() -> None:
    until = NOW + timedelta(hours=2)
    reason = Reason(why=Why.WAITS_CHEAPER, until=until)
    assert reason_text(reason, NAMES, OSLO) == "Waits for the cheaper hours from 01:00."
    reason = Reason(why=Why.CIRCUIT, circuit="main", line=Line.L2)
    assert reason_text(reason, NAMES, OSLO) == "Charges with what L2 of Supply leaves."
    assert "the cap of board" in reason_text(Reason(why=Why.NO_ROOM, circuit="board"), NAMES, OSLO)


def test_what_is_missing_names_what_is_to_blame() -> None:
    assert shortfall_text(Shortfall(energy_wh=3_240.0, circuit="main", line=Line.L1), NAMES) == (
        "3.2 kWh will be missing at its departure: L1 of Supply is full."
    )
    assert "cannot take more" in shortfall_text(Shortfall(energy_wh=3_240.0), NAMES)


def plan(**facts: Any) -> Schedule:
    usual: dict[str, Any] = {
        "made_at": NOW,
        "ends_at": NOW + timedelta(days=1),
        "currency": "NOK",
        "price_source": "somebody",
        "prices_until": NOW + timedelta(days=1),
        "basis": {"main": Basis.HISTORY},
        "cars": (),
        "complete": True,
    }
    return Schedule(**{**usual, **facts})


def test_what_was_assumed_of_the_site_is_said() -> None:
    assert plan_assumptions(plan(), NAMES, OSLO) == []
    assert "No prices" in plan_assumptions(plan(currency=None), NAMES, OSLO)[0]
    assert "No prices" in plan_assumptions(plan(prices_until=None), NAMES, OSLO)[0]
    until = plan(prices_until=NOW + timedelta(hours=3))
    assert "until 02:00" in plan_assumptions(until, NAMES, OSLO)[0]
    (text,) = plan_assumptions(plan(basis={"main": Basis.CONFIGURED}), NAMES, OSLO)
    assert text.startswith("Base load of Supply: the configured worst case")
    assert "ran out" in plan_assumptions(plan(complete=False), NAMES, OSLO)[0]


def test_what_was_assumed_of_a_car_is_said() -> None:
    goal = Goal(
        energy_wh=20_000.0,
        left_wh=20_000.0,
        departure=None,
        energy_from=Source.ASSUMED,
        departure_from=Source.ASSUMED,
    )
    car = CarSchedule(
        evse=Evse("BAY-1", 1), session_id=1, goal=goal, charged_wh=0.0, planned_wh=0.0, held=False
    )
    energy, departure = assumptions(car)
    assert "20 kWh are assumed" in energy
    assert "not held back" in departure
    told = replace(goal, energy_from=Source.MEMBER, departure=NOW, departure_from=Source.CAR)
    assert assumptions(replace(car, goal=told)) == []


def test_no_word_is_missing() -> None:
    assert set(LEFT) == set(Left)
    assert set(BASIS) == set(Basis)
    assert set(FROM) == set(Source) - {Source.ASSUMED}
