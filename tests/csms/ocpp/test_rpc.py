"""Conversations: what the station says, what we say, what our own side is told."""

import json
from collections.abc import Iterator
from itertools import count
from typing import Any

import pytest

from csms.errors import OurFault
from csms.ocpp.call_state import CallState
from csms.ocpp.faults import Fault
from csms.ocpp.rpc import (
    QUEUE_LENGTH,
    REMEMBERED_ANSWERS,
    REMEMBERED_CALLS,
    REMEMBERED_S,
    InvalidOutbound,
    Rpc,
)
from csms.ocpp.rpc_items import CallEnded, CallSent, InboundCall, InboundSend, Item, Step, Unusable
from csms.ocpp.version import Version

V16, V201, V21 = Version.OCPP16, Version.OCPP201, Version.OCPP21
SUPPORTED = {
    V16: {"Authorize", "BootNotification", "Heartbeat", "StartTransaction", "StopTransaction", "MeterValues"},
    V201: {"BootNotification", "Heartbeat", "TransactionEvent", "MeterValues"},
    V21: {"Heartbeat", "NotifyPeriodicEventStream", "TransactionEvent"},
}
METERS = {"connectorId": 1, "meterValue": [{"timestamp": "t", "sampledValue": [{"value": "1"}]}]}


def engine(version: Version = V16) -> Rpc:
    numbers = count(1)
    return Rpc(version, SUPPORTED[version], lambda: f"ours-{next(numbers)}")


def says(rpc: Rpc, *parts: Any, now: float = 0.0) -> Step:
    """The station sends a frame of these parts."""
    return rpc.receive(json.dumps(parts), now)


def asks(rpc: Rpc, message_id: str, action: str, payload: Any, now: float = 0.0) -> InboundCall:
    """The station sends a call and nothing stands against it."""
    step = says(rpc, 2, message_id, action, payload, now=now)
    assert step.texts == []
    (call,) = step.items
    assert isinstance(call, InboundCall)
    return call


def sent(step: Step) -> list[Any]:
    """What went to the station, parsed."""
    return [json.loads(text) for text in step.texts]


def only(step: Step) -> Item:
    (item,) = step.items
    return item


def ended(step: Step) -> Iterator[tuple[str, CallState]]:
    return ((item.id, item.state) for item in step.items if isinstance(item, CallEnded))


# ---- the station calls ----------------------------------------------------------------


def test_a_call_is_given_to_us_and_answered() -> None:
    rpc = engine()
    call = asks(rpc, "1", "Heartbeat", {})
    assert (call.payload, call.deviations, call.violations) == ({}, (), ())
    assert rpc.unanswered == 1
    assert sent(rpc.answer(call, {"currentTime": "2026-03-01T12:00:00Z"}, 0)) == [
        [3, "1", {"currentTime": "2026-03-01T12:00:00Z"}]
    ]
    assert rpc.unanswered == 0


def test_a_null_payload_is_an_empty_one() -> None:
    assert asks(engine(), "1", "Heartbeat", None).payload == {}


def test_answers_go_out_in_the_order_of_the_calls() -> None:
    rpc = engine()
    first, second = asks(rpc, "1", "MeterValues", METERS), asks(rpc, "2", "MeterValues", METERS)
    assert says(rpc, 2, "3", "Unheard", {}).texts == []
    assert sent(rpc.answer(second, {}, 0)) == []
    answers = sent(rpc.answer(first, {}, 0))
    assert [parts[:2] for parts in answers] == [[3, "1"], [3, "2"], [4, "3"]]


def test_a_call_cannot_be_answered_twice() -> None:
    rpc = engine()
    call = asks(rpc, "1", "MeterValues", METERS)
    rpc.answer(call, {}, 0)
    with pytest.raises(OurFault, match="not open"):
        rpc.answer(call, {}, 0)
    with pytest.raises(OurFault, match="not open"):
        rpc.refuse(call, Fault.INTERNAL, "", 0)


@pytest.mark.parametrize(
    ("version", "action", "code"),
    [
        (V16, "Unheard", "NotImplemented"),
        (V16, "TransactionEvent", "NotImplemented"),
        (V16, "SignCertificate", "NotSupported"),
        (V16, "Reset", "NotSupported"),
        (V201, "StartTransaction", "NotImplemented"),
        (V201, "NotifyDisplayMessages", "NotSupported"),
        (V21, "NotifyPeriodicEventStream", "NotSupported"),
    ],
)
def test_unknown_is_not_implemented_and_known_is_not_supported(
    version: Version, action: str, code: str
) -> None:
    step = says(engine(version), 2, "1", action, {})
    assert [parts[:3] for parts in sent(step)] == [[4, "1", code]]
    item = only(step)
    assert isinstance(item, Unusable)
    assert (item.malformed, item.answered) == (False, True)


@pytest.mark.parametrize(
    ("version", "payload", "code", "text"),
    [
        (V16, {}, "OccurenceConstraintViolation", "chargePointModel: is missing"),
        (
            V16,
            {"chargePointVendor": {}, "chargePointModel": "m"},
            "TypeConstraintViolation",
            "chargePointVendor: must be of type string",
        ),
        (V201, {"reason": "PowerUp"}, "OccurrenceConstraintViolation", "chargingStation: is missing"),
    ],
)
def test_a_call_that_breaks_its_schema_is_refused_with_the_reason(
    version: Version, payload: dict[str, Any], code: str, text: str
) -> None:
    rpc = engine(version)
    assert sent(says(rpc, 2, "1", "BootNotification", payload)) == [[4, "1", code, text, {}]]
    assert (rpc.counts.refused, rpc.counts.deviating) == (1, 1)


def test_a_boot_with_a_long_serial_and_extras_is_let_in() -> None:
    boot = {"chargePointVendor": "Mill Works", "chargePointModel": "W1", "chargePointSerialNumber": "S" * 60}
    call = asks(engine(), "1", "BootNotification", {**boot, "colour": "red", "iccid": ""})
    assert call.payload == boot
    assert len(call.deviations) == 3


@pytest.mark.parametrize(
    ("version", "action", "payload", "rule"),
    [
        (V16, "MeterValues", {"connectorId": 1}, "required"),
        (V16, "MeterValues", {"connectorId": 1, "meterValue": []}, "minItems"),
        (V16, "StopTransaction", {"transactionId": "seven"}, "required"),
        (V16, "StartTransaction", {"idTag": None}, "required"),
        (V201, "TransactionEvent", {"seqNo": {}}, "required"),
        (V201, "MeterValues", {}, "required"),
    ],
)
def test_messages_about_transactions_always_come_through(
    version: Version, action: str, payload: dict[str, Any], rule: str
) -> None:
    call = asks(engine(version), "1", action, payload)
    assert rule in {violation.rule for violation in call.violations}
    assert call.about_transaction


def test_what_could_be_put_right_is_no_violation() -> None:
    value = {"value": 230.1, "unit": "Hz"}
    meters = {"connectorId": 1.0, "meterValue": [{"timestamp": "t", "sampledValue": [value]}]}
    call = asks(engine(), "1", "MeterValues", meters)
    assert call.violations == ()
    assert call.payload["meterValue"][0]["sampledValue"] == [{"value": "230.1", "unit": "Hz"}]
    assert len(call.deviations) == 3


def test_an_id_of_45_characters_is_echoed_and_noted() -> None:
    rpc, long_id = engine(), "urn:uuid:" + "0" * 36
    call = asks(rpc, long_id, "MeterValues", METERS)
    assert call.deviations == ("message id: has 45 characters",)
    assert sent(rpc.answer(call, {}, 0)) == [[3, long_id, {}]]


def test_our_answer_must_keep_to_the_schema_and_the_call_stays_open() -> None:
    rpc = engine()
    call = asks(rpc, "1", "Heartbeat", {})
    with pytest.raises(InvalidOutbound, match=r"our Heartbeat breaks the schema: currentTime: is missing"):
        rpc.answer(call, {}, 0)
    assert sent(rpc.refuse(call, Fault.INTERNAL, "", 0)) == [[4, "1", "InternalError", "", {}]]


# ---- repeats --------------------------------------------------------------------------


def test_a_repeat_gets_the_same_answer_and_nobody_is_asked_again() -> None:
    rpc = engine()
    start = {"connectorId": 1, "idTag": "04AB", "meterStart": 0, "timestamp": "2026-03-01T12:00:00Z"}
    call = asks(rpc, "1", "StartTransaction", start)
    answer = rpc.answer(call, {"transactionId": 7, "idTagInfo": {"status": "Accepted"}}, 0)
    again = says(rpc, 2, "1", "StartTransaction", start, now=60)
    assert again.texts == answer.texts
    assert again.items == []
    assert rpc.counts.repeated == 1


def test_a_repeat_of_an_open_call_gets_one_answer() -> None:
    rpc = engine()
    call = asks(rpc, "1", "MeterValues", METERS)
    assert says(rpc, 2, "1", "MeterValues", METERS) == Step()
    assert sent(rpc.answer(call, {}, 0)) == [[3, "1", {}]]
    assert rpc.unanswered == 0


def test_the_same_id_with_other_content_is_a_new_call() -> None:
    rpc = engine()
    rpc.answer(asks(rpc, "1", "MeterValues", METERS), {}, 0)
    assert asks(rpc, "1", "MeterValues", {**METERS, "connectorId": 2}).payload["connectorId"] == 2


def test_the_time_is_always_told_anew() -> None:
    rpc = engine()
    rpc.answer(asks(rpc, "1", "Heartbeat", {}), {"currentTime": "2026-03-01T12:00:00Z"}, 0)
    asks(rpc, "1", "Heartbeat", {}, now=1)


def test_an_equal_message_much_later_is_news() -> None:
    rpc = engine()
    verdict = {"idTagInfo": {"status": "Accepted"}}
    rpc.answer(asks(rpc, "1", "Authorize", {"idTag": "04AB"}), verdict, 0)
    assert says(rpc, 2, "1", "Authorize", {"idTag": "04AB"}, now=REMEMBERED_S).texts
    asks(rpc, "1", "Authorize", {"idTag": "04AB"}, now=REMEMBERED_S + 1)


def test_a_refused_call_may_be_tried_again() -> None:
    rpc = engine()
    rpc.refuse(asks(rpc, "1", "MeterValues", METERS), Fault.INTERNAL, "", 0)
    asks(rpc, "1", "MeterValues", METERS)


def test_the_memory_for_repeats_is_bounded() -> None:
    rpc = engine()
    for n in range(REMEMBERED_ANSWERS + 1):
        rpc.answer(asks(rpc, str(n), "MeterValues", METERS), {}, 0)
    assert says(rpc, 2, str(REMEMBERED_ANSWERS), "MeterValues", METERS).texts
    asks(rpc, "0", "MeterValues", METERS)


# ---- garbage --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("version", "text", "answer"),
    [
        (V16, "hello", None),
        (V16, '[2,"1","Heartbeat",{', [4, "1", "FormationViolation"]),
        (V16, '[2,"1","Heartbeat"]', [4, "1", "FormationViolation"]),
        (V16, '[9,"1","Heartbeat",{}]', None),
        (V201, "hello", [4, "-1", "RpcFrameworkError"]),
        (V201, '[2,17,"Heartbeat",{}]', [4, "-1", "RpcFrameworkError"]),
        (V201, '[9,"1","Heartbeat",{}]', [4, "1", "MessageTypeNotSupported"]),
        (V21, '[9,"1","Heartbeat",{}]', None),
        (V201, '[2,"1","Heartbeat",[]]', [4, "1", "FormatViolation"]),
    ],
)
def test_garbage_is_told_apart_answered_where_it_may_be_and_counted(
    version: Version, text: str, answer: list[Any] | None
) -> None:
    rpc = engine(version)
    step = rpc.receive(text, 0)
    assert [parts[:3] for parts in sent(step)] == ([answer] if answer else [])
    item = only(step)
    assert isinstance(item, Unusable)
    assert (item.malformed, item.answered) == (True, answer is not None)
    assert rpc.counts.malformed == 1
    asks(rpc, "2", "Heartbeat", {})


def test_the_answer_to_garbage_does_not_repeat_it() -> None:
    (answer,) = engine(V201).receive('[2,"1","Authorize",{"idTag":"04AB11', 0).texts
    assert "04AB11" not in answer


# ---- we call --------------------------------------------------------------------------


def reset(rpc: Rpc, now: float = 0.0, timeout_s: float = 30, ttl_s: float = 60) -> tuple[str, Step]:
    return rpc.call("Reset", {"type": "Soft"}, now, timeout_s=timeout_s, ttl_s=ttl_s)


def test_a_call_of_ours_is_sent_and_answered() -> None:
    rpc = engine()
    call_id, step = reset(rpc)
    assert sent(step) == [[2, call_id, "Reset", {"type": "Soft"}]]
    assert step.items == [CallSent(call_id)]
    assert says(rpc, 3, call_id, {"status": "Accepted"}).items == [
        CallEnded(call_id, "Reset", CallState.ANSWERED, {"status": "Accepted"})
    ]
    assert rpc.due is None


def test_a_refusal_is_an_end_too() -> None:
    rpc = engine()
    call_id, _ = reset(rpc)
    assert says(rpc, 4, call_id, "NotSupported", "no", {}).items == [
        CallEnded(call_id, "Reset", CallState.REFUSED, code="NotSupported", text="no")
    ]


def test_one_call_is_open_at_a_time_and_the_deadline_begins_when_it_is_sent() -> None:
    rpc = engine()
    first, _ = reset(rpc, timeout_s=30)
    second, step = reset(rpc, timeout_s=30)
    assert step == Step()
    assert rpc.due == 30
    step = says(rpc, 3, first, {"status": "Accepted"}, now=20)
    assert [parts[1] for parts in sent(step)] == [second]
    assert rpc.due == 50
    assert rpc.tick(49) == Step()
    assert list(ended(rpc.tick(50))) == [(second, CallState.TIMED_OUT)]


def test_calls_cross() -> None:
    rpc = engine()
    call_id, _ = reset(rpc)
    theirs = asks(rpc, "1", "Heartbeat", {})
    assert list(ended(says(rpc, 3, call_id, {"status": "Accepted"}))) == [(call_id, CallState.ANSWERED)]
    assert rpc.answer(theirs, {"currentTime": "2026-03-01T12:00:00Z"}, 0).texts


def test_a_timeout_lets_the_next_call_go() -> None:
    rpc = engine()
    first, _ = reset(rpc)
    second, _ = reset(rpc)
    step = rpc.tick(30)
    assert list(ended(step)) == [(first, CallState.TIMED_OUT)]
    assert [parts[1] for parts in sent(step)] == [second]
    assert (rpc.counts.timeouts, rpc.counts.silent_in_a_row) == (1, 1)


def test_a_call_that_waited_too_long_is_never_sent() -> None:
    rpc = engine()
    reset(rpc, timeout_s=100)
    waiting, _ = reset(rpc, ttl_s=5)
    step = rpc.tick(5)
    assert list(ended(step)) == [(waiting, CallState.EXPIRED)]
    assert step.texts == []


def test_an_expired_call_is_not_sent_when_the_line_falls_free_just_then() -> None:
    rpc = engine()
    first, _ = reset(rpc)
    waiting, _ = reset(rpc, ttl_s=5)
    step = says(rpc, 3, first, {"status": "Accepted"}, now=6)
    assert list(ended(step)) == [(first, CallState.ANSWERED), (waiting, CallState.EXPIRED)]
    assert step.texts == []


def test_a_late_answer_is_told_as_late_and_frees_nothing_twice() -> None:
    rpc = engine()
    first, _ = reset(rpc)
    second, _ = reset(rpc)
    third, _ = reset(rpc)
    rpc.tick(30)
    step = says(rpc, 3, first, {"status": "Accepted"}, now=31)
    assert step.items == [CallEnded(first, "Reset", CallState.ANSWERED_LATE, {"status": "Accepted"})]
    assert step.texts == []
    assert (rpc.counts.late_answers, rpc.counts.silent_in_a_row) == (1, 0)
    assert sent(says(rpc, 3, second, {"status": "Accepted"}, now=32))[0][1] == third
    assert list(ended(says(rpc, 4, third, "GenericError", "", {}))) == [(third, CallState.REFUSED)]


def test_a_late_refusal() -> None:
    rpc = engine()
    call_id, _ = reset(rpc)
    rpc.tick(30)
    assert list(ended(says(rpc, 4, call_id, "GenericError", "", {}))) == [(call_id, CallState.REFUSED_LATE)]


def test_second_and_foreign_answers_are_counted_and_dropped() -> None:
    rpc = engine()
    call_id, _ = reset(rpc)
    says(rpc, 3, call_id, {"status": "Accepted"})
    for _ in range(1_000):
        assert says(rpc, 3, call_id, {"status": "Rejected"}) == Step()
        assert says(rpc, 3, "nobody's", {}) == Step()
        assert says(rpc, 4, "nobody's", "GenericError", "", {}) == Step()
    assert (rpc.counts.duplicate_answers, rpc.counts.foreign_answers) == (1_000, 2_000)


def test_an_answer_to_a_call_still_in_the_queue_is_nobodys() -> None:
    rpc = engine()
    reset(rpc)
    waiting, _ = reset(rpc)
    assert says(rpc, 3, waiting, {"status": "Accepted"}) == Step()
    assert rpc.counts.foreign_answers == 1


def test_the_memory_for_late_answers_is_bounded() -> None:
    rpc = engine()
    first, _ = reset(rpc)
    for _ in range(REMEMBERED_CALLS + 1):
        rpc.tick(rpc.due or 0)
        reset(rpc, now=1e6)
    assert says(rpc, 3, first, {"status": "Accepted"}) == Step()


def test_the_queue_is_bounded() -> None:
    rpc = engine()
    for _ in range(QUEUE_LENGTH + 1):
        reset(rpc)
    call_id, step = reset(rpc)
    assert list(ended(step)) == [(call_id, CallState.DROPPED)]


def test_a_closed_connection_ends_every_call() -> None:
    rpc = engine()
    first, _ = reset(rpc)
    second, _ = reset(rpc)
    asks(rpc, "1", "Heartbeat", {})
    step = rpc.close(1)
    assert list(ended(step)) == [(first, CallState.LOST), (second, CallState.DROPPED)]
    assert step.texts == []
    assert (rpc.due, rpc.unanswered) == (None, 0)


def test_we_never_send_what_breaks_the_schema() -> None:
    rpc = engine()
    with pytest.raises(InvalidOutbound, match="type: is not one of the values"):
        rpc.call("Reset", {"type": "Gently"}, 0, timeout_s=30, ttl_s=60)
    assert rpc.due is None


def test_an_answer_with_extras_is_not_lost() -> None:
    rpc = engine()
    call_id, _ = reset(rpc)
    item = only(says(rpc, 3, call_id, {"status": "accepted", "mood": "good"}))
    assert isinstance(item, CallEnded)
    assert (item.state, item.payload, item.violations) == (CallState.ANSWERED, {"status": "Accepted"}, ())
    assert len(item.deviations) == 2


@pytest.mark.parametrize(
    ("version", "told"), [(V16, []), (V201, []), (V21, [[5, "ours-1", "OccurrenceConstraintViolation"]])]
)
def test_an_unusable_answer_is_given_to_us_and_told_in_2_1_only(version: Version, told: list[Any]) -> None:
    rpc = engine(version)
    kind = "Soft" if version is V16 else "Immediate"
    rpc.call("Reset", {"type": kind}, 0, timeout_s=30, ttl_s=60)
    step = says(rpc, 3, "ours-1", {})
    item = only(step)
    assert isinstance(item, CallEnded)
    assert [violation.path for violation in item.violations] == ["status"]
    assert [parts[:3] for parts in sent(step)] == told


# ---- what only 2.1 has ----------------------------------------------------------------


def test_a_send_is_taken_and_not_answered() -> None:
    stream = {"id": 1, "pending": 0, "basetime": "2026-03-01T12:00:00Z", "data": [{"t": 0, "v": "1"}]}
    step = says(engine(V21), 6, "1", "NotifyPeriodicEventStream", stream)
    item = only(step)
    assert isinstance(item, InboundSend)
    assert (item.action, item.payload, step.texts) == ("NotifyPeriodicEventStream", stream, [])


@pytest.mark.parametrize(
    ("action", "payload"), [("NotifyPeriodicEventStream", {}), ("Heartbeat", {}), ("Unheard", {})]
)
def test_a_send_that_is_no_use_is_kept_and_not_answered(action: str, payload: dict[str, Any]) -> None:
    step = says(engine(V21), 6, "1", action, payload)
    assert isinstance(only(step), Unusable)
    assert step.texts == []


def test_a_station_that_cannot_use_our_answer_says_so() -> None:
    step = says(engine(V21), 5, "1", "TypeConstraintViolation", "currentTime", {})
    item = only(step)
    assert isinstance(item, Unusable)
    assert "could not use our answer 1" in item.problem
    assert (item.fault, item.answered, step.texts) == (Fault.TYPE, False, [])
