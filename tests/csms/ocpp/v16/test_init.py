"""The whole adapter: what it offers, that each message has its vector, and that nothing breaks it."""

import copy
import typing
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.ocpp.actions import FROM_CENTRAL, FROM_STATION
from csms.ocpp.adapter import Unreadable, Unsupported, adapter_for
from csms.ocpp.v16 import ADAPTER
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS
from tests.vectors.reader import NOW, build, every

SAID = [case for case in every("v16") if case["from"] == "station"]
ASKED = [case for case in every("v16") if case["from"] == "us" and "payload" in case]

# whole numbers as the JSON reader gives them
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**63), 2**64 - 1),
    st.floats(),
    st.text(max_size=6),
    st.builds(list),
    st.builds(dict),
    st.builds(lambda: [{}]),
    st.builds(lambda: {"id": {}}),
    st.lists(st.integers(0, 9), max_size=2),
)


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The paths of all parts of a payload."""
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [place for key, one in inner for place in ((*path, key), *places(one, (*path, key)))]


def damaged(draw: st.DrawFn, payload: Any) -> Any:
    """A copy of a payload with some parts replaced or taken out."""
    payload = copy.deepcopy(payload)
    for _ in range(draw(st.integers(1, 4))):
        found = places(payload)
        if not found:
            break
        *way, last = draw(st.sampled_from(found))
        node = payload
        for key in way:
            node = node[key]
        if draw(st.booleans()):
            node[last] = draw(ODD)
        elif isinstance(node, dict):
            del node[last]
    return payload


@st.composite
def damaged_messages(draw: st.DrawFn) -> tuple[str, Any]:
    case = draw(st.sampled_from(SAID))
    return case["action"], damaged(draw, case["payload"])


@st.composite
def damaged_results(draw: st.DrawFn) -> tuple[Command, Any]:
    case = draw(st.sampled_from([case for case in ASKED if case["results"]]))
    return build(case["command"]), damaged(draw, draw(st.sampled_from(case["results"]))["payload"])


def test_it_is_found_by_its_version() -> None:
    assert adapter_for(Version.OCPP16) is ADAPTER
    assert ADAPTER.version is Version.OCPP16


def test_every_message_has_a_vector() -> None:
    assert {case["action"] for case in SAID} == set(ADAPTER.inbound_actions)
    assert {case["action"] for case in ASKED} == set(ADAPTER.outbound_actions.values())


def test_actions_are_sent_the_right_way() -> None:
    assert set(ADAPTER.inbound_actions) <= FROM_STATION[Version.OCPP16]
    assert set(ADAPTER.outbound_actions.values()) <= FROM_CENTRAL[Version.OCPP16]


def test_it_speaks_the_neutral_vocabulary() -> None:
    assert set(ADAPTER.inbound_actions.values()) <= {*EVENTS, *QUESTIONS}
    missing = set(typing.get_args(Command)) - set(ADAPTER.outbound_actions)
    assert {command.__name__ for command in missing} == MISSING


MISSING: set[str] = {"GetProfiles", "GetReport"}


@pytest.mark.parametrize("case", [case for case in SAID if "means" in case], ids=lambda case: case["action"])
def test_a_part_of_the_makers_own_changes_nothing(case: dict[str, Any]) -> None:
    extra = {**case["payload"], "millrace": {"x": [1]}}
    assert ADAPTER.inbound(case["action"], extra, NOW) == ADAPTER.inbound(
        case["action"], case["payload"], NOW
    )


@given(damaged_messages())
def test_a_damaged_message_is_read_or_unreadable(message: tuple[str, Any]) -> None:
    action, payload = message
    try:
        read = ADAPTER.inbound(action, payload, NOW)
    except Unreadable as error:
        assert error.field  # noqa: PT017
    else:
        assert type(read) is ADAPTER.inbound_actions[action]
        hash(read)  # nothing of the wire's mutable objects is left in it


@given(damaged_results())
def test_a_damaged_result_is_read_or_unreadable(exchange: tuple[Command, Any]) -> None:
    command, payload = exchange
    try:
        assert isinstance(ADAPTER.result(command, payload), CommandResult)
    except Unreadable as error:
        assert error.field  # noqa: PT017


def test_no_command_is_without_an_answer() -> None:
    for case in every("v16"):
        if case["from"] == "us":
            written = ADAPTER.outbound(build(case["command"]))
            assert isinstance(written, Unsupported) is ("unsupported" in case)
