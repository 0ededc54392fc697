"""The whole adapter: what it offers, that each message has its vector, and that nothing breaks it."""

from typing import Any

import pytest
from hypothesis import given

from csms.ocpp.actions import FROM_CENTRAL, FROM_STATION
from csms.ocpp.adapter import Unreadable, Unsupported, adapter_for
from csms.ocpp.v201 import ADAPTER
from csms.ocpp.version import Version
from csms.stations.commands import COMMANDS, Command, CommandResult
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS
from tests.csms.ocpp.damage import messages, results
from tests.vectors.reader import NOW, build, every

SAID = [case for case in every("v201") if case["from"] == "station"]
ASKED = [case for case in every("v201") if case["from"] == "us" and "payload" in case]


def test_it_is_found_by_its_version() -> None:
    assert adapter_for(Version.OCPP201) is ADAPTER
    assert ADAPTER.version is Version.OCPP201


def test_every_action_of_the_standard_has_a_sound_vector() -> None:
    sound = {case["action"] for case in SAID if "means" in case and not case.get("broken")}
    assert sound == set(ADAPTER.inbound_actions) == FROM_STATION[Version.OCPP201]
    asked = {case["action"] for case in ASKED}
    assert asked == set(ADAPTER.asked_actions) == FROM_CENTRAL[Version.OCPP201]
    assert len(sound | asked) == 64


def test_it_speaks_the_neutral_vocabulary() -> None:
    assert set(ADAPTER.inbound_actions.values()) <= {*EVENTS, *QUESTIONS}
    missing = set(COMMANDS) - set(ADAPTER.outbound_actions)
    assert {command.__name__ for command in missing} == MISSING


MISSING: set[str] = {
    "AdjustStream",
    "AllowEnergyTransfer",
    "ChangeTariff",
    "ClearDerControl",
    "ClearTariffs",
    "GetDerControls",
    "GetStreams",
    "GetTariffs",
    "RequestBatterySwap",
    "SendBalancingSignal",
    "SetDefaultTariff",
    "SetDerControl",
    "TellWebPayment",
    "UpdateSchedule",
    "UsePriority",
}


@pytest.mark.parametrize("case", [case for case in SAID if "means" in case], ids=lambda case: case["action"])
def test_a_part_of_the_makers_own_changes_nothing(case: dict[str, Any]) -> None:
    extra = {**case["payload"], "millrace": {"x": [1]}}
    assert ADAPTER.inbound(case["action"], extra, NOW) == ADAPTER.inbound(
        case["action"], case["payload"], NOW
    )


@given(messages(SAID))
def test_a_damaged_message_is_read_or_unreadable(message: tuple[str, Any]) -> None:
    action, payload = message
    try:
        read = ADAPTER.inbound(action, payload, NOW)
    except Unreadable as error:
        assert error.field  # noqa: PT017
    else:
        assert type(read) is ADAPTER.inbound_actions[action]
        hash(read)  # nothing of the wire's mutable objects is left in it


@given(results(ASKED))
def test_a_damaged_result_is_read_or_unreadable(exchange: tuple[Command, Any]) -> None:
    command, payload = exchange
    try:
        assert isinstance(ADAPTER.result(command, payload), CommandResult)
    except Unreadable as error:
        assert error.field  # noqa: PT017


def test_no_command_is_without_an_answer() -> None:
    for case in every("v201"):
        if case["from"] == "us":
            written = ADAPTER.outbound(build(case["command"]))
            assert isinstance(written, Unsupported) is ("unsupported" in case)
