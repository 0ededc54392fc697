"""OCPP 1.6, variables: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v16 import ADAPTER
from csms.stations.commands import GetVariables
from tests.csms.ocpp.conversation import send
from tests.vectors.reader import cases


@pytest.mark.parametrize("case", cases("v16", "variables", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v16", case) == []


def test_a_truth_value_reads_as_the_standard_writes_it() -> None:
    keys = [
        {"key": "AuthorizeRemoteTxRequests", "readonly": False, "value": value} for value in (True, False, 7)
    ]
    result = ADAPTER.result(GetVariables(()), {"configurationKey": keys})
    assert isinstance(result.data, tuple)
    assert [variable.value for variable in result.data] == ["true", "false", "7"]
