"""Sessions to look at."""

from datetime import UTC, datetime
from typing import Any

import pytest

from csms.alarms.rules.sessions import REGISTER_MARKS, signs
from csms.alarms.signs import Begun, Over
from csms.store.fact import Fact


def fact(topic: str, **body: Any) -> Fact:
    at = datetime(2026, 11, 2, 11, tzinfo=UTC)
    return Fact(topic=topic, at=at, subject="41", body={"station": "YARD-01", "evse": 1, **body})


@pytest.mark.parametrize("mark", sorted(REGISTER_MARKS))
def test_odd_registers(mark: str) -> None:
    (begun,) = signs(fact("session.marked", mark=mark, detail="went back"))
    assert isinstance(begun, Begun)
    assert (begun.kind, begun.thing, begun.detail["mark"]) == ("register_fault", "session 41", mark)


def test_other_marks_are_of_every_day() -> None:
    assert signs(fact("session.marked", mark="clock_off")) == ()


def test_a_price_that_comes_late_ends_it() -> None:
    (begun,) = signs(fact("session.unpriced", reason="no tariff"))
    assert isinstance(begun, Begun)
    assert signs(fact("session.priced")) == (Over(frozenset({begun.kind}), begun.thing),)


def test_energy_of_no_session() -> None:
    (begun,) = signs(fact("session.orphan", step="ended", reason="nothing fits"))
    assert isinstance(begun, Begun)
    assert (begun.kind, begun.station_id) == ("session_unassigned", "YARD-01")
