"""What all translators promise."""

from typing import get_args

import pytest

from csms.errors import InvalidInput
from csms.ocpp.actions import FROM_CENTRAL, FROM_STATION
from csms.ocpp.adapter import VERSIONS, Unreadable, adapter_for
from csms.ocpp.version import Version
from csms.stations.commands import Command
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS


@pytest.mark.parametrize("version", VERSIONS)
def test_a_translator_knows_its_version_and_keeps_to_the_standard_s_directions(version: Version) -> None:
    adapter = adapter_for(version)
    assert adapter.version is version
    assert adapter.inbound_actions.keys() <= FROM_STATION[version]
    assert set(adapter.outbound_actions.values()) <= set(adapter.asked_actions) <= FROM_CENTRAL[version]
    assert set(adapter.inbound_actions.values()) <= {*QUESTIONS, *EVENTS}
    assert adapter.outbound_actions.keys() <= set(get_args(Command))


def test_every_neutral_word_can_be_said_in_some_version() -> None:
    adapters = [adapter_for(version) for version in VERSIONS]
    assert {kind for one in adapters for kind in one.inbound_actions.values()} == {*QUESTIONS, *EVENTS}
    assert {kind for one in adapters for kind in one.outbound_actions} == set(get_args(Command))


def test_unreadable_names_the_field_and_is_bad_input() -> None:
    error = Unreadable("meterValue[0].timestamp", "is not a time")
    assert isinstance(error, InvalidInput)
    assert str(error) == "meterValue[0].timestamp: is not a time"
