"""What a sign does to an alarm."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from csms.alarms import turning
from csms.alarms.alarm import Alarm, AlarmState, Severity
from csms.alarms.signs import Begun
from csms.errors import Conflict

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
FAULT = Begun(kind="ground_fault", thing="YARD-01/1", station_id="YARD-01", evse=1)
LOST = Begun(kind="charger_lost", thing="YARD-01", station_id="YARD-01")


def begun(sign: Begun, last: Alarm | None = None, fact: int = 0, now: datetime = NOW) -> Alarm:
    alarm = turning.begin(last, sign, "weavers-yard", fact, now)
    assert alarm is not None
    return alarm


def test_what_can_hurt_is_raised_at_once() -> None:
    alarm = begun(FAULT)
    assert (alarm.state, alarm.severity, alarm.raised_at) == (AlarmState.RAISED, Severity.URGENT, NOW)


def test_a_lost_charger_has_to_stay_lost_for_five_minutes() -> None:
    alarm = begun(LOST)
    assert alarm.state is AlarmState.PENDING
    assert turning.due(alarm, NOW + timedelta(seconds=299)) is None
    raised = turning.due(alarm, NOW + timedelta(minutes=5))
    assert raised is not None
    assert raised.state is AlarmState.RAISED
    assert turning.due(raised, NOW + timedelta(hours=1)) is None, "once"


def test_a_pending_one_that_is_over_was_never_an_alarm() -> None:
    passed = turning.end(begun(LOST), NOW)
    assert passed is not None
    assert passed.state is AlarmState.PASSED


def test_told_again_is_counted_and_a_fact_told_twice_is_not() -> None:
    alarm = replace(begun(FAULT, fact=7), id=1)
    assert turning.begin(alarm, FAULT, None, 7, NOW) is None
    again = begun(FAULT, alarm, fact=8)
    assert (again.id, again.times, again.fact) == (1, 2, 8)


def test_told_again_it_may_become_graver_but_not_lighter() -> None:
    alarm = begun(replace(FAULT, severity=Severity.WARNING))
    assert begun(replace(FAULT, severity=Severity.URGENT), alarm).severity is Severity.URGENT
    assert begun(replace(FAULT, severity=Severity.NOTICE), alarm).severity is Severity.WARNING


def test_who_has_taken_it_on_stays_while_it_is_told_again() -> None:
    taken = turning.acknowledge(begun(FAULT), NOW, "key:caretaker", "on my way")
    again = begun(FAULT, taken)
    assert (again.state, again.acknowledged_by) == (AlarmState.ACKNOWLEDGED, "key:caretaker")
    with pytest.raises(Conflict):
        turning.acknowledge(again, NOW, "key:other", "")


def test_what_comes_back_soon_is_the_same_alarm_and_later_is_another() -> None:
    over = turning.end(replace(begun(FAULT), id=3), NOW)
    assert over is not None
    soon = begun(FAULT, over, now=NOW + timedelta(minutes=14))
    assert (soon.id, soon.state, soon.cleared_at) == (3, AlarmState.RAISED, None)
    later = begun(FAULT, over, now=NOW + timedelta(minutes=15))
    assert (later.id, later.times) == (0, 1)


def test_one_that_comes_back_has_to_be_taken_on_anew() -> None:
    taken = turning.acknowledge(begun(FAULT), NOW, "key:caretaker", "")
    over = turning.end(taken, NOW)
    assert over is not None
    assert begun(FAULT, over).acknowledged_at is None


def test_a_latched_one_is_ended_by_a_person_only() -> None:
    alarm = begun(Begun(kind="wrong_serial", thing="YARD-01"))
    assert turning.end(alarm, NOW) is None
    over = turning.end(alarm, NOW, "key:caretaker")
    assert over is not None
    assert (over.state, over.cleared_by) == (AlarmState.CLEARED, "key:caretaker")


def test_an_older_end_does_not_end_a_newer_beginning() -> None:
    assert turning.end(begun(FAULT, fact=9), NOW, fact=8) is None
