"""OCPP 1.6, transactions: the vectors, both ways."""

from typing import Any

import pytest

from csms.errors import OurFault
from csms.ocpp.v16 import ADAPTER
from csms.stations.questions import TransactionAnswer
from tests.csms.ocpp.conversation import hear
from tests.vectors.reader import NOW, cases


@pytest.mark.parametrize("case", cases("v16", "transactions", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v16", case) == []


def test_an_id_that_is_no_integer_is_our_fault() -> None:
    """OCPP 1.6 wants an integer in StartTransaction.conf (schema)."""
    start = ADAPTER.inbound("StartTransaction", {"connectorId": 1, "idTag": "04A1"}, NOW)
    with pytest.raises(OurFault, match="integer"):
        ADAPTER.answer(start, TransactionAnswer("b0e9"), NOW)
