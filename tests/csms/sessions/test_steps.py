"""Putting steps into a session."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from csms.metering.series import Flag, Point, Source
from csms.sessions import steps
from csms.sessions.session import Mark, Session, State
from csms.stations.model import ChargingState, Reading, ReadingContext, StopReason
from csms.stations.questions import TransactionReported, TransactionStep

AT = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
POWER_W = steps.max_power_w(32)
BEGAN = TransactionReported(
    step=TransactionStep.BEGAN, transaction_id="tx", at=AT, evse=1, connector=1, register_wh=1000, sequence=0
)
UPDATED = TransactionReported(step=TransactionStep.UPDATED, transaction_id="tx", at=AT + MINUTE, sequence=1)
ENDED = TransactionReported(
    step=TransactionStep.ENDED,
    transaction_id="tx",
    at=AT + 9 * MINUTE,
    register_wh=2500,
    sequence=2,
    reason=StopReason.REMOTE,
)


def opened(report: TransactionReported) -> Session:
    return steps.put_in(steps.new_session("YARD-01", "weavers-yard", report, AT), report)


def test_three_lines_of_32_amperes() -> None:
    # 3 x 32 A at 230 V: the 22 kW of IEC 61851 mode 3.
    assert POWER_W == 22_080


def test_a_start_opens_and_a_stop_ends() -> None:
    session = opened(BEGAN)
    assert (session.state, session.marks, session.last_sequence) == (State.STARTED, {}, 0)
    session = steps.put_in(steps.put_in(session, UPDATED), ENDED)
    assert (session.state, session.stop_reason, session.register_stop_wh, session.marks) == (
        State.ENDED,
        StopReason.REMOTE,
        2500,
        {},
    )
    session, meter = steps.remeasured(session, (), POWER_W)
    assert (session.energy_wh, meter.energy_wh, session.register_last_at) == (1500, 1500, ENDED.at)


def test_the_same_steps_in_another_order_are_the_same_session() -> None:
    straight = steps.put_in(steps.put_in(opened(BEGAN), UPDATED), ENDED)
    reverse = steps.put_in(steps.put_in(opened(ENDED), UPDATED), BEGAN)
    assert reverse == straight


def test_a_stop_without_a_reason_is_local() -> None:
    # OCPP 1.6 section 4.10: reason may be left out when it is Local.
    assert steps.put_in(opened(BEGAN), replace(ENDED, reason=None)).stop_reason is StopReason.LOCAL


def test_registers_of_the_marked_readings_count_when_the_step_has_none() -> None:
    begin = Reading(at=AT, context=ReadingContext.BEGIN, register_wh=50)
    end = Reading(at=ENDED.at, context=ReadingContext.END, register_wh=80)
    session = opened(replace(BEGAN, register_wh=None, readings=(begin,)))
    session = steps.put_in(session, replace(ENDED, register_wh=None, readings=(end,)))
    assert (session.register_start_wh, session.register_stop_wh) == (50, 80)


def test_a_session_cannot_end_before_it_began() -> None:
    session = steps.put_in(opened(BEGAN), replace(ENDED, at=AT - MINUTE))
    assert session.ended_at == session.started_at
    assert Mark.CLOCK_OFF in session.marks


def test_what_the_car_does_moves_an_open_session_only() -> None:
    session = steps.put_in_charging(opened(BEGAN), ChargingState.CHARGING)
    assert (session.state, session.charging) == (State.CHARGING, ChargingState.CHARGING)
    session = steps.put_in_charging(session, ChargingState.SUSPENDED_EVSE)
    assert session.state is State.SUSPENDED
    session = steps.put_in_charging(session, ChargingState.CONNECTED)
    assert (session.state, session.charging) == (State.SUSPENDED, ChargingState.CONNECTED)
    ended = steps.put_in(session, ENDED)
    assert ended.charging is ChargingState.IDLE
    assert steps.put_in_charging(ended, ChargingState.CHARGING) == ended


def test_only_the_latest_word_of_the_car_is_news() -> None:
    session = steps.put_in(opened(BEGAN), UPDATED)
    assert not steps.is_news(session, UPDATED)
    assert steps.is_news(session, ENDED)
    assert steps.is_news(session, replace(UPDATED, sequence=None))


def test_marks_keep_what_was_said_first() -> None:
    session = steps.marked(opened(BEGAN), Mark.STOP_CONFLICT, "a")
    assert steps.marked(session, Mark.STOP_CONFLICT, "b") == session
    assert steps.unmarked(session, Mark.STOP_CONFLICT).marks == {}
    assert steps.unmarked(session, Mark.CLOCK_OFF) == session


def test_a_closed_session_ends_at_its_last_sign_of_life() -> None:
    session, _ = steps.remeasured(opened(BEGAN), (Point(AT + MINUTE, 1100),), POWER_W)
    closed = steps.closed(session, AT + 5 * MINUTE, Mark.NO_STOP_SEEN, "session 9 began")
    assert (closed.state, closed.ended_at) == (State.CLOSED, AT + MINUTE)
    assert steps.closed(closed, AT, Mark.CLOSED_BY_HAND) == closed
    # It went on all the same.
    later, _ = steps.remeasured(closed, (Point(AT + 7 * MINUTE, 1900),), POWER_W)
    assert (later.energy_wh, later.ended_at) == (900, AT + 7 * MINUTE)
    ended = steps.put_in(later, replace(ENDED, sequence=1))
    assert (ended.state, ended.marks) == (State.ENDED, {})


def test_points_are_those_told_for_certain() -> None:
    provisional = opened(UPDATED)
    assert steps.points_of(provisional, ()) == []
    session = steps.put_in(opened(BEGAN), ENDED)
    assert steps.points_of(session, (Point(AT, 1),)) == [
        Point(AT, 1),
        Point(AT, 1000, Source.START),
        Point(ENDED.at, 2500, Source.STOP),
    ]


def test_flags_of_the_registers_come_and_go_with_them() -> None:
    ended = steps.put_in(opened(BEGAN), replace(ENDED, register_wh=0))
    reset, _ = steps.remeasured(ended, (), POWER_W)
    assert Flag.REGISTER_RESET in reset.marks
    mended, _ = steps.remeasured(replace(reset, register_stop_wh=1200), (), POWER_W)
    assert Flag.REGISTER_RESET not in mended.marks
