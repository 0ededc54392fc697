"""Cars that sleep. OCPP has no message for the pulse of IEC 61851-1; off and on again it has."""

from collections.abc import Callable
from typing import Any

from csms.power.installation import Evse
from csms.power.steering.notices import Notice, NoticeKind
from csms.power.steering.waking import CALL_S, HELD_LONG_S, WAKE_WITHIN_S, Waking

Make = Callable[..., Any]
ASLEEP = Notice(NoticeKind.CAR_ASLEEP, Evse("bay-1", 1))


def test_only_a_long_hold_lets_a_car_sleep() -> None:
    assert not Waking().started(HELD_LONG_S - 1, 100.0).awaited
    assert Waking().started(HELD_LONG_S, 100.0).awaited


def test_it_is_called_once_and_then_left() -> None:
    awaited = Waking().started(500.0, 100.0)
    due = 100.0 + WAKE_WITHIN_S
    assert awaited.waited(150.0, due - 1) == awaited
    called = awaited.waited(150.0, due)
    assert called.calls(due + CALL_S - 1)
    assert not called.calls(due + CALL_S)
    again = called.started(0.0, due + CALL_S)
    assert (again.awaited, again.called) == (True, True)
    left = again.waited(due + 50.0, due + CALL_S + WAKE_WITHIN_S)
    assert (left.asleep, left.awaited) == (True, False)
    assert left.started(500.0, 1000.0) == left
    assert left.drew(6.0) == Waking()


def test_without_readings_nobody_says_that_it_sleeps() -> None:
    awaited = Waking().started(500.0, 100.0)
    assert awaited.waited(99.0, 100.0 + WAKE_WITHIN_S) == Waking()


def held(yard: Make) -> Any:
    """Two cars on 10 A; the second has waited a turn and is let in now."""
    site = yard(bays=2, limit_a=10.0).connect()
    site.settle(2)
    site.plug(0).settle(2)
    site.plug(1)
    for _ in range(910):
        site.measure(1, 0.0)
        site.settle(1)
    return site


def test_after_a_pause_the_minimum_is_offered_and_all_of_it_once_it_draws(yard: Make) -> None:
    site = held(yard)
    for _ in range(60):
        assert site.offered() == [0.0, 6.0]
        site.measure(1, 0.0)
        site.settle(1)
    site.measure(1, 5.8)
    site.settle(12)
    assert site.offered() == [0.0, 10.0]


def test_a_car_that_does_not_wake_is_called_then_left_and_its_share_is_free(yard: Make) -> None:
    site = held(yard)
    offers = []
    for _ in range(300):
        site.measure(1, 0.0)
        site.settle(1)
        offers.append(site.offered()[1])
    assert offers.count(0.0) >= CALL_S
    called = offers.index(0.0)
    assert abs(called - WAKE_WITHIN_S) < 15
    assert offers[called + int(CALL_S) + 5] == 6.0
    assert ASLEEP in site.look().notices
    assert not site.bay(1).charge.wants
    # Nothing of it is left to the sleeper: the other waits for the end of its rest only.
    site.settle(100)
    assert site.offered() == [10.0, 0.0]


def test_a_sleeper_that_asks_is_taken_up_again(yard: Make) -> None:
    site = held(yard)
    for _ in range(400):
        site.measure(1, 0.0)
        site.settle(1)
    assert site.bay(1).waking.asleep
    site.change(1, lambda bay: bay.wants(False))
    site.change(1, lambda bay: bay.wants(True))
    assert site.bay(1).charge.wants
    assert ASLEEP not in site.look().notices


def test_a_sleeper_alone_keeps_the_minimum_and_wakes_by_drawing(yard: Make) -> None:
    site = held(yard)
    site.unplug(0)
    for _ in range(400):
        site.measure(1, 0.0)
        site.settle(1)
    assert site.bay(1).waking.asleep
    assert site.offered()[1] == 6.0
    site.measure(1, 6.0)
    assert site.bay(1).charge.wants
    site.settle(40)
    assert site.offered()[1] == 10.0
