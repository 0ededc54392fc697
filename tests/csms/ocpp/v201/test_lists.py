"""OCPP 2.0.1, lists: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v201 import ADAPTER
from tests.csms.ocpp.conversation import hear, send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v201", "lists", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v201", case) == []


@pytest.mark.parametrize("case", cases("v201", "lists", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v201", case) == []
