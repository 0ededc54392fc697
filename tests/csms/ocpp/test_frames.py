"""Shapes and rules of OCPP-J 1.6 §4 with errata and OCPP 2.0.1/2.1 part 4 §4."""

import json
from decimal import Decimal

import ocpp.messages
import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.errors import OurFault
from csms.ocpp.faults import Fault
from csms.ocpp.frames import (
    Call,
    CallError,
    CallResult,
    CallResultError,
    Frame,
    Limits,
    Malformed,
    Send,
    read,
    write,
)
from csms.ocpp.version import Version

V16, V201, V21 = Version.OCPP16, Version.OCPP201, Version.OCPP21
LIMITS = Limits(characters=2_000, depth=8)


@pytest.mark.parametrize("version", Version)
@pytest.mark.parametrize(
    ("text", "frame"),
    [
        ('[2,"19","Heartbeat",{}]', Call("19", "Heartbeat", {})),
        ('[2,"19","Heartbeat",null]', Call("19", "Heartbeat", {})),
        (' [ 2 , "a b" , "X" , {"k": [1]} ] ', Call("a b", "X", {"k": [1]})),
        ('[3,"19",{"status":"Accepted"}]', CallResult("19", {"status": "Accepted"})),
        ('[3,"19",null]', CallResult("19", {})),
        ('[3,"19"]', CallResult("19", {})),
        ('[4,"19","GenericError","why",{"a":1}]', CallError("19", "GenericError", "why", {"a": 1})),
        ('[4,"19","GenericError"]', CallError("19", "GenericError")),
        ('[4,"19",null,null,null]', CallError("19", "")),
    ],
)
def test_frames_of_all_versions(version: Version, text: str, frame: Frame) -> None:
    assert read(text, version, LIMITS) == frame


def test_frames_that_only_2_1_has() -> None:
    assert read('[6,"7","NotifyPeriodicEventStream",{}]', V21, LIMITS) == Send(
        "7", "NotifyPeriodicEventStream", {}
    )
    assert read('[5,"7","FormatViolation","",{}]', V21, LIMITS) == CallResultError("7", "FormatViolation")
    assert isinstance(read('[6,"7","X",[]]', V21, LIMITS), Malformed)


@pytest.mark.parametrize(
    ("version", "answer_id"), [(V16, None), (V201, "7"), (V21, None)], ids=["1.6", "2.0.1", "2.1"]
)
def test_an_unknown_message_type_is_told_in_2_0_1_only(version: Version, answer_id: str | None) -> None:
    bad = read('[9,"7","X",{}]', version, LIMITS)
    assert bad == Malformed("there is no message type 9", Fault.MESSAGE_TYPE, answer_id)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "hello",
        '[2,"19","Heartbeat",{}',
        ',[2,"19","Heartbeat",{}]',
        '[2,"19","Heartbeat",{}][2,"20","Heartbeat",{}]',
        '[2,"19","Heartbeat",{"a":NaN}]',
        '{"a":1}',
        "[]",
        "null",
        "17",
    ],
)
def test_what_is_no_frame_is_told_under_minus_one_in_2x(text: str) -> None:
    bad = read(text, V201, LIMITS)
    assert isinstance(bad, Malformed)
    assert (bad.fault, bad.answer_id) == (Fault.FRAMEWORK, "-1")


@pytest.mark.parametrize(
    ("text", "answer_id"),
    [
        ('[2,"19","Heartbeat",{}', "19"),
        ('  [2 , "19","Heartbeat', "19"),
        ('[2,"19","A",{}][2,"20","B",{}]', "19"),
        ('[3,"19",{"status":', None),
        ('[2,"', None),
        (',[2,"19","A",{}]', None),
        ("hello", None),
        ('[2,"' + "x" * 256 + '","A",{', None),
    ],
)
def test_1_6_answers_a_broken_call_whose_id_can_be_cut_out(text: str, answer_id: str | None) -> None:
    bad = read(text, V16, LIMITS)
    assert isinstance(bad, Malformed)
    assert (bad.fault, bad.answer_id) == (Fault.FORMAT, answer_id)


@pytest.mark.parametrize("wrong", ["17", "null", '""', '{"a":1}', "[1]", "true", '"' + "x" * 256 + '"'])
def test_ids_that_are_none(wrong: str) -> None:
    of_2x, of_16 = (read(f'[2,{wrong},"Heartbeat",{{}}]', version, LIMITS) for version in (V201, V16))
    assert isinstance(of_2x, Malformed)
    assert isinstance(of_16, Malformed)
    assert (of_2x.fault, of_2x.answer_id, of_16.answer_id) == (Fault.FRAMEWORK, "-1", None)


def test_an_answer_with_a_wrong_id_is_not_answered() -> None:
    bad = read("[3,17,{}]", V201, LIMITS)
    assert isinstance(bad, Malformed)
    assert bad.answer_id is None


def test_an_id_somewhat_too_long_is_taken() -> None:
    assert read(f'[2,"urn:uuid:{"0" * 36}","Heartbeat",{{}}]', V16, LIMITS) == Call(
        "urn:uuid:" + "0" * 36, "Heartbeat", {}
    )


@pytest.mark.parametrize(
    "text",
    ['[2,"19"]', '[2,"19","A"]', '[2,"19","A",{},1]', '[2,"19",7,{}]', '[2,"19","A",[]]', '[2,"19","A","x"]'],
)
@pytest.mark.parametrize("version", Version)
def test_calls_of_a_wrong_form_are_answered_under_their_id(version: Version, text: str) -> None:
    bad = read(text, version, LIMITS)
    assert isinstance(bad, Malformed)
    assert (bad.fault, bad.answer_id) == (Fault.FORMAT, "19")


@pytest.mark.parametrize("text", ['["2","19","A",{}]', '[2.0,"19","A",{}]', '[true,"19","A",{}]'])
def test_the_message_type_is_a_whole_number(text: str) -> None:
    assert isinstance(read(text, V16, LIMITS), Malformed)


def test_size_is_checked_first() -> None:
    bad = read('[2,"19","DataTransfer",{"data":"' + "x" * 2_000 + '"}]', V16, LIMITS)
    assert isinstance(bad, Malformed)
    assert "2035 characters, more than 2000" in bad.problem
    assert bad.answer_id == "19"


def nested(levels: int) -> str:
    """A call whose payload makes the whole frame `levels` deep."""
    return '[2,"19","A",{"a":' + "[" * (levels - 2) + "]" * (levels - 2) + "}]"


def test_nesting_is_limited_to_the_level() -> None:
    assert isinstance(read(nested(8), V16, LIMITS), Call)
    bad = read(nested(9), V16, LIMITS)
    assert isinstance(bad, Malformed)
    assert "deeper than 8" in bad.problem
    assert bad.answer_id == "19"


def test_brackets_in_texts_do_not_count() -> None:
    payload = {"data": '[[[[{{{{ \\" ]]]]"[[[[[[[', "more": [[], [], [], {}, {}, []]}
    assert read(json.dumps([2, "1", "DataTransfer", payload]), V16, LIMITS) == Call(
        "1", "DataTransfer", payload
    )


def test_brackets_in_texts_do_not_hide_depth() -> None:
    text = '[2,"1","A",{"a":"]]]]]]]]]]]]","b":' + "[" * 20 + '"]]]]]"' + "]" * 20 + "}]"
    bad = read(text, V16, LIMITS)
    assert isinstance(bad, Malformed)
    assert "deeper" in bad.problem


@pytest.mark.parametrize(
    "text",
    [
        "[" * 4_000_000,
        "[" * 100_000 + "]" * 100_000,
        '[2,"1","A",{"a":"' + '\\"' * 1_900_000 + "[" * 40,
        '[2,"1","A",{"a":' + "[1]," * 40 + '"' + '"\\' * 1_900_000,
        "{" * 50 + "[]" * 1_900_000,
    ],
    ids=["open", "balanced", "escapes", "quotes", "flat"],
)
def test_hostile_megabytes_are_refused_in_one_pass(text: str) -> None:
    # Going back over the text for each bracket or quote would take hours and end in the time limit.
    assert isinstance(read(text, V16, Limits()), Malformed)


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.text() | JSON.map(json.dumps) | st.lists(JSON, max_size=6).map(json.dumps))
def test_no_text_whatever_raises(text: str) -> None:
    for version in Version:
        assert isinstance(read(text, version, LIMITS), Frame | Malformed)


@given(JSON)
def test_depth_is_what_the_parsed_value_has(value: object) -> None:
    def depth(node: object) -> int:
        inner = node.values() if isinstance(node, dict) else node if isinstance(node, list) else None
        return 0 if inner is None else 1 + max(map(depth, inner), default=0)

    bad = read(json.dumps([2, "1", "A", {"a": value}]), V16, Limits(depth=4))
    assert isinstance(bad, Malformed) is (depth([{"a": value}]) > 4)


@pytest.mark.parametrize(
    "frame",
    [
        Call("1", "Heartbeat", {}),
        CallResult("1", {"a": "ü"}),
        CallError("1", "GenericError", "why", {}),
    ],
)
def test_what_we_write_is_read_by_the_reference_package(frame: Call | CallResult | CallError) -> None:
    theirs = ocpp.messages.unpack(write(frame))
    assert theirs.unique_id == frame.id
    assert read(write(frame), V16, LIMITS) == frame


@pytest.mark.parametrize("frame", [CallResultError("1", "FormatViolation", "x"), Send("1", "A", {"b": 1})])
def test_frames_of_2_1_come_back(frame: Frame) -> None:
    assert read(write(frame), V21, LIMITS) == frame


def test_a_description_has_255_characters_at_most() -> None:
    assert json.loads(write(CallError("1", "GenericError", "x" * 300)))[3] == "x" * 255


def test_a_value_without_json_form_is_our_fault() -> None:
    with pytest.raises(OurFault, match="no JSON form"):
        write(Call("1", "A", {"limit": Decimal("6.2")}))
