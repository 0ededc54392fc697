"""A car that waits for us is not idle; one that has had enough is."""

from datetime import UTC, datetime, timedelta

from csms.sessions.pauses import Pause, idle, idle_time, turn
from csms.stations.model import ChargingState

START = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)
EV, EVSE = ChargingState.SUSPENDED_EV, ChargingState.SUSPENDED_EVSE
CHARGING = ChargingState.CHARGING


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def test_the_car_s_pause_begins_and_ends() -> None:
    over, begin = turn([], charging=EV, held=False, at=at(1))
    assert (over, begin) == ([], [Pause(at(1), None, False)])
    assert turn(begin, charging=EV, held=False, at=at(2)) == ([], [])
    assert turn(begin, charging=CHARGING, held=False, at=at(3)) == ([Pause(at(1), at(3), False)], [])


def test_our_pause_holds_until_we_let_go_and_the_station_too() -> None:
    _, running = turn([], charging=CHARGING, held=True, at=at(1))
    assert running == [Pause(at(1), None, True)]
    assert turn(running, charging=EVSE, held=True, at=at(2)) == ([], [])
    assert turn(running, charging=EVSE, held=False, at=at(3)) == ([], [])
    assert turn(running, charging=CHARGING, held=False, at=at(4)) == ([Pause(at(1), at(4), True)], [])


def test_both_may_run_at_once_and_none_ends_before_it_began() -> None:
    _, running = turn([], charging=EV, held=True, at=at(5))
    assert {pause.by_us for pause in running} == {True, False}
    over, begin = turn(running, charging=CHARGING, held=False, at=at(4))
    assert begin == []
    assert {pause.to_at for pause in over} == {at(5)}


def test_what_we_held_back_is_never_idle() -> None:
    pauses = [
        Pause(at(0), at(10), True),
        Pause(at(5), at(30), False),
        Pause(at(20), at(25), True),
        Pause(at(40), None, False),
    ]
    assert idle(pauses, at(60)) == [(at(10), at(20)), (at(25), at(30)), (at(40), at(60))]
    assert idle_time(pauses, at(60)) == timedelta(minutes=35)
    assert idle([], at(60)) == []


def test_adjoining_idle_times_are_one() -> None:
    pauses = [Pause(at(0), at(10), False), Pause(at(10), at(20), False), Pause(at(5), at(6), False)]
    assert idle(pauses, at(20)) == [(at(0), at(20))]
