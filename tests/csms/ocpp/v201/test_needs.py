"""OCPP 2.0.1, what a car needs: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v201 import ADAPTER
from csms.ocpp.v201.needs import STATUSES
from csms.stations.words.needs import NeedsVerdict
from tests.csms.ocpp.conversation import hear
from tests.vectors.reader import cases, members


@pytest.mark.parametrize("case", cases("v201", "needs", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v201", case) == []


def test_every_verdict_has_the_standards_word() -> None:
    assert set(STATUSES) == set(NeedsVerdict)
    assert set(STATUSES.values()) == members("v201", "NotifyEVChargingNeedsResponse", "status")
