"""OCPP 1.6, security: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v16 import ADAPTER
from tests.csms.ocpp.conversation import hear, send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v16", "security", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v16", case) == []


@pytest.mark.parametrize("case", cases("v16", "security", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v16", case) == []
