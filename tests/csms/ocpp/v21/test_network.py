"""OCPP 2.1, network: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v21 import ADAPTER
from tests.csms.ocpp.conversation import send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v21", "network", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v21", case) == []
