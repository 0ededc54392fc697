"""A maker's own messages: the vectors of both versions, both ways."""

from typing import Any

import pytest

from csms.ocpp.adapter import Adapter
from csms.ocpp.v16 import ADAPTER as OCPP_16
from csms.ocpp.v201 import ADAPTER as OCPP_201
from tests.csms.ocpp.conversation import hear, send
from tests.vectors.reader import cases

VERSIONS: list[tuple[str, Adapter]] = [("v16", OCPP_16), ("v201", OCPP_201)]


def each(side: str) -> list[Any]:
    return [
        pytest.param(a, v, *case.values, id=f"{v}-{case.id}")
        for v, a in VERSIONS
        for case in cases(v, "vendor", side)
    ]


@pytest.mark.parametrize(("adapter", "version", "case"), each("station"))
def test_the_station_is_understood_and_answered(adapter: Adapter, version: str, case: dict[str, Any]) -> None:
    assert hear(adapter, version, case) == []


@pytest.mark.parametrize(("adapter", "version", "case"), each("us"))
def test_the_command_and_its_results_are_translated(
    adapter: Adapter, version: str, case: dict[str, Any]
) -> None:
    assert send(adapter, version, case) == []
