"""Which messages are due, and how long a failing one is tried."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from csms.alarms.alarm import Alarm, AlarmState, Severity
from csms.alarms.deliveries import (
    AGAIN_AFTER,
    DeliveryState,
    Occasion,
    after_failure,
    after_success,
    to_members,
    wanted,
)
from csms.alarms.routes import ChannelKind, Route

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
ALARM = Alarm(
    id=1,
    kind="ground_fault",
    thing="YARD-01/1",
    severity=Severity.URGENT,
    state=AlarmState.RAISED,
    site_id="weavers-yard",
    began_at=NOW,
    raised_at=NOW,
    last_at=NOW,
)
FIRST = Route(id="first", channel=ChannelKind.MAIL, address="caretaker@weavers.example", created_at=NOW)
UPWARD = replace(FIRST, id="upward", address="board@weavers.example", after_s=600)


def test_the_first_is_told_at_once_and_once() -> None:
    (delivery,) = wanted(ALARM, (FIRST, UPWARD), set(), NOW)
    assert (delivery.route_id, delivery.address, delivery.occasion) == (
        "first",
        "caretaker@weavers.example",
        Occasion.RAISED,
    )
    assert wanted(ALARM, (FIRST, UPWARD), {("first", Occasion.RAISED)}, NOW) == ()


def test_nobody_took_it_on_so_it_goes_up() -> None:
    told = {("first", Occasion.RAISED)}
    late = NOW + timedelta(minutes=10)
    assert [each.route_id for each in wanted(ALARM, (FIRST, UPWARD), told, late)] == ["upward"]
    taken = replace(ALARM, state=AlarmState.ACKNOWLEDGED)
    assert wanted(taken, (FIRST, UPWARD), told, late) == ()


def test_whoever_was_told_is_told_that_it_is_over() -> None:
    over = replace(ALARM, state=AlarmState.CLEARED, cleared_at=NOW)
    told = {("first", Occasion.RAISED)}
    (delivery,) = wanted(over, (FIRST, UPWARD), told, NOW)
    assert (delivery.route_id, delivery.occasion) == ("first", Occasion.CLEARED)
    assert wanted(over, (FIRST, UPWARD), told | {("first", Occasion.CLEARED)}, NOW) == ()


def test_a_pending_one_is_told_to_nobody() -> None:
    assert wanted(replace(ALARM, state=AlarmState.PENDING, raised_at=None), (FIRST,), set(), NOW) == ()


def test_members_are_told_once_each() -> None:
    made = to_members(ALARM, ["a@weavers.example", "", "a@weavers.example"], NOW)
    assert [(each.address, each.route_id) for each in made] == [("a@weavers.example", None)]


def test_a_failing_message_is_tried_for_a_day_and_given_up() -> None:
    (delivery,) = wanted(ALARM, (FIRST,), set(), NOW)
    now = NOW
    while delivery.state is DeliveryState.WAITING:
        delivery = after_failure(delivery, "no route" * 100, now)
        now = max(now, delivery.next_at)
    assert delivery.state is DeliveryState.GIVEN_UP
    assert delivery.attempts == len(AGAIN_AFTER) + 1
    assert timedelta(hours=22) < now - NOW < timedelta(hours=26)
    assert len(delivery.error) == 255


def test_a_sent_one_forgets_its_failures() -> None:
    (delivery,) = wanted(ALARM, (FIRST,), set(), NOW)
    sent = after_success(after_failure(delivery, "no route", NOW), NOW)
    assert (sent.state, sent.attempts, sent.error, sent.sent_at) == (DeliveryState.SENT, 2, "", NOW)
