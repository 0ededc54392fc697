"""OCPP 2.0.1, limits: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v201 import ADAPTER
from tests.csms.ocpp.conversation import hear
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v201", "limits", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v201", case) == []
