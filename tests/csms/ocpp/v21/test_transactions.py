"""OCPP 2.1, transactions: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v21 import ADAPTER
from tests.csms.ocpp.conversation import hear
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v21", "transactions", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v21", case) == []
