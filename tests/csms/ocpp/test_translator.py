"""The table-driven body of the adapters."""

from datetime import UTC, datetime

import pytest

from csms.errors import OurFault
from csms.ocpp.adapter import Adapter, Unreadable, Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.translator import ACCEPTANCE, Translator, expect, plain_result, status_of
from csms.ocpp.v16 import ADAPTER as ADAPTER16
from csms.ocpp.v21 import ADAPTER as ADAPTER21
from csms.ocpp.v201 import ADAPTER as ADAPTER201
from csms.ocpp.version import Version
from csms.stations.commands import ClearCache, CommandResult, CommandStatus, Reset
from csms.stations.events import Heartbeat
from csms.stations.model import TokenRef
from csms.stations.questions import Boot, BootAnswer, MayCharge, TransactionReported
from tests.vectors.reader import members

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)


def test_without_blocks_nothing_is_understood() -> None:
    bare: Adapter = Translator(Version.OCPP201, ())
    assert bare.inbound_actions == {}
    assert bare.outbound_actions == {}
    with pytest.raises(Unreadable) as caught:
        bare.inbound("Heartbeat", {}, NOW)
    assert caught.value.field == "action"
    assert bare.outbound(ClearCache()) == Unsupported("OCPP 2.0.1 has no message for ClearCache")
    with pytest.raises(OurFault):
        bare.result(ClearCache(), {"status": "Accepted"})
    assert bare.answer(Heartbeat(), None, NOW) == {}


def test_deviations_of_the_engine_stand_before_those_of_the_reader() -> None:
    start = ADAPTER16.inbound("StartTransaction", {"connectorId": 1}, NOW, ("extra: is not in the standard",))
    assert isinstance(start, TransactionReported)
    assert start.deviations[:2] == ("extra: is not in the standard", "idTag: is missing or false")


@pytest.mark.parametrize("question", [Boot("Millrace", "MR-22"), MayCharge(TokenRef("04A1"))])
def test_an_answer_of_another_kind_is_our_fault(question: Boot | MayCharge) -> None:
    with pytest.raises(OurFault):
        ADAPTER16.answer(question, None, NOW)
    with pytest.raises(OurFault):
        expect(Heartbeat(), BootAnswer)


def test_a_status_with_the_stations_reason() -> None:
    info = {"reasonCode": "InternalError", "additionalInfo": "try later"}
    said = Fields({"status": "rejected", "statusInfo": info})
    assert status_of(said) == (CommandStatus.REJECTED, "rejected (InternalError: try later)")


def test_a_status_of_the_makers_own_is_an_error_with_that_word() -> None:
    assert plain_result(Reset(), Fields({"status": "Perhaps"})) == CommandResult(
        CommandStatus.ERROR, "Perhaps"
    )


@pytest.mark.parametrize("payload", [{}, {"status": ""}, {"status": None}, {"status": ["Accepted"]}])
def test_without_a_status_the_result_is_unreadable(payload: dict[str, object]) -> None:
    with pytest.raises(Unreadable) as caught:
        ADAPTER16.result(ClearCache(), payload)
    assert caught.value.field == "status"


STATUSES = [
    (folder, f"{action}Response")
    for folder, adapter in (("v16", ADAPTER16), ("v201", ADAPTER201), ("v21", ADAPTER21))
    for action in adapter.asked_actions
    if members(folder, f"{action}Response", "status")
]


@pytest.mark.parametrize(("version", "message"), STATUSES)
def test_every_status_of_the_official_schema_is_known(version: str, message: str) -> None:
    assert members(version, message, "status") <= set(ACCEPTANCE)


def test_only_answers_that_say_nothing_else_have_no_status() -> None:
    told = {message.removesuffix("Response") for version, message in STATUSES if version == "v21"}
    assert set(ADAPTER21.asked_actions) - told == {
        *("CostUpdated", "GetLocalListVersion", "GetPeriodicEventStream", "GetTransactionStatus"),
        *("NotifyWebPaymentStarted", "GetVariables", "SetVariables"),
    }


@pytest.mark.parametrize("action", ["GetVariables", "SetVariables"])
def test_every_status_of_an_attribute_is_known(action: str) -> None:
    words = members("v201", f"{action}Response", "attributeStatus")
    assert words
    assert words <= set(ACCEPTANCE)
