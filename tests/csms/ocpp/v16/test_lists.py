"""OCPP 1.6, lists: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v16 import ADAPTER
from tests.csms.ocpp.conversation import send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v16", "lists", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v16", case) == []
