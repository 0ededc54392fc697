"""OCPP 2.0.1, display: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.adapter import adapter_for
from csms.ocpp.v201 import ADAPTER
from csms.ocpp.version import Version
from tests.csms.ocpp.conversation import hear, send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v201", "display", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v201", case) == []


@pytest.mark.parametrize("case", cases("v201", "display", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v201", case) == []


@pytest.mark.parametrize("case", cases("v21", "display", "station"))
def test_later_versions_are_understood(case: dict[str, Any]) -> None:
    assert hear(adapter_for(Version.OCPP21), "v21", case) == []


@pytest.mark.parametrize("case", cases("v21", "display", "us"))
def test_later_versions_are_written(case: dict[str, Any]) -> None:
    assert send(adapter_for(Version.OCPP21), "v21", case) == []
