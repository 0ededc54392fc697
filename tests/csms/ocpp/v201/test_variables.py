"""OCPP 2.0.1, variables: the vectors, both ways."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.ocpp.adapter import Unreadable
from csms.ocpp.fields import Fields
from csms.ocpp.texts import clean
from csms.ocpp.v201 import ADAPTER
from csms.ocpp.v201.variables import path_of, wire_path
from csms.stations.commands import GetVariables, SetVariables
from csms.stations.model import VariableValue
from tests.csms.ocpp.conversation import hear, send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v201", "variables", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v201", case) == []


@pytest.mark.parametrize("case", cases("v201", "variables", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v201", case) == []


@pytest.mark.parametrize("command", [GetVariables(("A/B",)), SetVariables((VariableValue("A/B", "1"),))])
def test_a_result_without_results_is_unreadable(command: GetVariables | SetVariables) -> None:
    with pytest.raises(Unreadable, match="VariableResult: is missing"):
        ADAPTER.result(command, {})


NAMES = st.text(max_size=8).map(clean).filter(bool)
PLACES = st.none() | st.tuples(st.integers(0, 99), st.none() | st.integers(0, 99))


@given(NAMES, st.none() | NAMES, PLACES, NAMES, st.none() | NAMES)
def test_a_path_comes_back_as_the_same_wire_names(
    component: str,
    instance: str | None,
    place: tuple[int, int | None] | None,
    variable: str,
    kind: str | None,
) -> None:
    wire: dict[str, Any] = {"component": {"name": component}, "variable": {"name": variable}}
    if instance:
        wire["component"]["instance"] = instance
    if kind:
        wire["variable"]["instance"] = kind
    if place:
        wire["component"]["evse"] = {"id": place[0]} | ({} if place[1] is None else {"connectorId": place[1]})
    assert wire_path(path_of(Fields(wire))) == wire
