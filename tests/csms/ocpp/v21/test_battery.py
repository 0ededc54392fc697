"""OCPP 2.1, battery: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v21 import ADAPTER
from tests.csms.ocpp.conversation import hear, send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v21", "battery", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v21", case) == []


@pytest.mark.parametrize("case", cases("v21", "battery", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v21", case) == []
