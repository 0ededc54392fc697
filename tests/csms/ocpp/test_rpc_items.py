import pytest

from csms.ocpp.rpc_items import Counts, InboundCall, Step


@pytest.mark.parametrize(
    ("action", "about"),
    [
        ("StartTransaction", True),
        ("StopTransaction", True),
        ("MeterValues", True),
        ("TransactionEvent", True),
        ("Authorize", False),
        ("Heartbeat", False),
    ],
)
def test_calls_about_transactions_say_so(action: str, about: bool) -> None:
    assert InboundCall("1", action, {}).about_transaction is about


def test_equal_looking_calls_are_two_calls() -> None:
    assert InboundCall("1", "Heartbeat", {}) != InboundCall("1", "Heartbeat", {})


def test_steps_do_not_share_their_lists() -> None:
    Step().texts.append("x")
    assert Step().texts == []
    assert Counts().received == 0
