"""What all translators promise, and the table of messages in csms/ocpp/README.md."""

import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import get_args

import pytest

from csms.errors import InvalidInput
from csms.ocpp.actions import FROM_CENTRAL, FROM_STATION
from csms.ocpp.adapter import VERSIONS, Unreadable, adapter_for
from csms.ocpp.version import Version
from csms.stations.commands import Command
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS

README = Path("csms/ocpp/README.md").read_text(encoding="utf-8")
ROW = re.compile(r"^\| (\w+) \| ([\d.]+) \| (\w+) \| (\w+) \|", re.MULTILINE)


def rows(heading: str) -> Iterator[tuple[str, str, str, str]]:
    """Action, version, neutral word and file of each row under `heading`."""
    section = README.split(f"## {heading}\n")[1].split("\n## ")[0]
    yield from (match.groups() for match in ROW.finditer(section))  # type: ignore[misc]


@pytest.mark.parametrize("version", VERSIONS)
def test_a_translator_knows_its_version_and_keeps_to_the_standard_s_directions(version: Version) -> None:
    adapter = adapter_for(version)
    assert adapter.version is version
    assert adapter.inbound_actions.keys() <= FROM_STATION[version]
    assert set(adapter.outbound_actions.values()) <= FROM_CENTRAL[version]
    assert set(adapter.inbound_actions.values()) <= {*QUESTIONS, *EVENTS}
    assert adapter.outbound_actions.keys() <= set(get_args(Command))


def test_every_neutral_word_can_be_said_in_some_version() -> None:
    adapters = [adapter_for(version) for version in VERSIONS]
    assert {kind for one in adapters for kind in one.inbound_actions.values()} == {*QUESTIONS, *EVENTS}
    assert {kind for one in adapters for kind in one.outbound_actions} == set(get_args(Command))


def test_there_is_no_translator_of_2_1_yet() -> None:
    with pytest.raises(KeyError):
        adapter_for(Version.OCPP21)


def test_unreadable_names_the_field_and_is_bad_input() -> None:
    error = Unreadable("meterValue[0].timestamp", "is not a time")
    assert isinstance(error, InvalidInput)
    assert str(error) == "meterValue[0].timestamp: is not a time"


@pytest.mark.parametrize("version", VERSIONS)
def test_the_readme_has_every_message(version: Version) -> None:
    adapter = adapter_for(version)
    said = {(action, kind.__name__) for action, kind in adapter.inbound_actions.items()}
    ours = {(action, kind.__name__) for kind, action in adapter.outbound_actions.items()}
    assert {(row[0], row[2]) for row in rows("The station says") if row[1] == version} == said
    assert {(row[0], row[2]) for row in rows("We say") if row[1] == version} == ours


@pytest.mark.parametrize(
    ("heading", "table"), [("The station says", "INBOUND"), ("We say", "OUTBOUND")], ids=["in", "out"]
)
def test_the_readme_names_the_file_of_each_message(heading: str, table: str) -> None:
    folders = {"1.6": "v16", "2.0.1": "v201"}
    listed = list(rows(heading))
    assert listed
    for action, version, _, file in listed:
        own = Path("csms/ocpp", folders[version], f"{file}.py").exists()
        block = getattr(import_module(f"csms.ocpp.{folders[version] + '.' if own else ''}{file}"), table)
        actions = block.keys() if table == "INBOUND" else {row.action for row in block.values()}
        assert action in actions, f"{action} of {version} is not in {file}.py"


def test_the_readme_is_in_order_and_has_nothing_twice() -> None:
    for heading in ("The station says", "We say"):
        keys = [row[:2] for row in rows(heading)]
        assert keys == sorted(set(keys))
