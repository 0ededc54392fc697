"""The life cycle: every pair of state and event has an answer, and these are the answers."""

from datetime import UTC, datetime

import pytest

from csms.sessions.session import CHARGING_EVENTS, OPEN, TRANSITIONS, Event, Mark, Session, State
from csms.stations.model import ChargingState

AT = datetime(2026, 11, 2, tzinfo=UTC)


@pytest.mark.parametrize("state", State)
@pytest.mark.parametrize("event", Event)
def test_every_pair_has_an_answer(state: State, event: Event) -> None:
    after = TRANSITIONS[state, event]
    if event is Event.ENDS or state is State.ENDED:
        assert after is State.ENDED
    elif event is Event.CLOSES or state is State.CLOSED:
        assert after is State.CLOSED
    elif state is State.PROVISIONAL:
        assert after is (State.STARTED if event is Event.BEGAN else State.PROVISIONAL)
    else:
        changes = {Event.BEGAN: state, Event.CHARGES: State.CHARGING, Event.PAUSES: State.SUSPENDED}
        assert after is changes[event]


def test_nothing_twice_makes_a_difference() -> None:
    for (_, event), after in TRANSITIONS.items():
        assert TRANSITIONS[after, event] is after


def test_what_is_over_never_opens_again() -> None:
    for (state, _), after in TRANSITIONS.items():
        if state not in OPEN:
            assert after not in OPEN


def test_every_condition_of_the_car_is_thought_of() -> None:
    silent = {ChargingState.IDLE, ChargingState.CONNECTED}
    assert set(CHARGING_EVENTS) | silent == set(ChargingState)


def test_a_session_knows_whether_it_runs_and_has_a_start() -> None:
    session = Session(station_id="YARD-01", started_at=AT, arrived_at=AT)
    assert (session.open, session.start_seen) == (True, True)
    lost = Session(
        station_id="YARD-01",
        started_at=AT,
        arrived_at=AT,
        state=State.CLOSED,
        marks={Mark.NO_START_SEEN: True},
    )
    assert (lost.open, lost.start_seen) == (False, False)
