"""OCPP 2.1, costs: the vectors, both ways."""

from typing import Any

import pytest

from csms.ocpp.v21 import ADAPTER
from csms.stations.words.costs import VatNumberAnswer
from tests.csms.ocpp.conversation import hear, send
from tests.vectors.reader import NOW, cases, official


@pytest.mark.parametrize("case", cases("v21", "costs", "station"))
def test_the_station_is_understood_and_answered(case: dict[str, Any]) -> None:
    assert hear(ADAPTER, "v21", case) == []


@pytest.mark.parametrize("case", cases("v21", "costs", "us"))
def test_the_command_and_its_results_are_translated(case: dict[str, Any]) -> None:
    assert send(ADAPTER, "v21", case) == []


def test_a_vat_number_longer_than_its_answer_may_be_is_repeated_as_far_as_it_goes() -> None:
    asked = ADAPTER.inbound("VatNumberValidation", {"vatNumber": "DE" + "1" * 40}, NOW)
    written = ADAPTER.answer(asked, VatNumberAnswer(False), NOW)
    official("v21", "VatNumberValidation", "response").validate(written)
    assert written["vatNumber"] == "DE" + "1" * 18
