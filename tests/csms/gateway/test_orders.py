import asyncio

import pytest

from csms.errors import StationOffline, StationSilent
from csms.gateway.orders import Order, StationBusy, conclude, result_of
from csms.ocpp.adapter import adapter_for
from csms.ocpp.call_state import CallState
from csms.ocpp.rpc_items import CallEnded
from csms.ocpp.version import Version
from csms.stations.commands import CommandResult, CommandStatus, Reset
from tests.csms.gateway.stage import Diary

ADAPTER = adapter_for(Version.OCPP16)


def ended(state: CallState, **fields: object) -> CallEnded:
    return CallEnded("1", "Reset", state, **fields)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("end", "status", "detail"),
    [
        (ended(CallState.ANSWERED, payload={"status": "Accepted"}), CommandStatus.ACCEPTED, "Accepted"),
        (ended(CallState.ANSWERED_LATE, payload={"status": "Rejected"}), CommandStatus.REJECTED, "Rejected"),
        (
            ended(CallState.REFUSED, code="NotImplemented", text="no"),
            CommandStatus.UNSUPPORTED,
            "NotImplemented: no",
        ),
        (ended(CallState.REFUSED, code="NotSupported"), CommandStatus.UNSUPPORTED, "NotSupported"),
        (ended(CallState.REFUSED_LATE, code="InternalError"), CommandStatus.ERROR, "InternalError"),
        (
            ended(CallState.ANSWERED, payload={}),
            CommandStatus.ERROR,
            "the answer makes no sense: status: is missing: whether the station agreed is unknown",
        ),
    ],
)
def test_what_an_answer_comes_to(end: CallEnded, status: CommandStatus, detail: str) -> None:
    result = result_of(ADAPTER, Reset(), end)
    assert (result.status, result.detail) == (status, detail)


@pytest.mark.parametrize(
    ("state", "kind", "written"),
    [
        (CallState.TIMED_OUT, StationSilent, "timed_out"),
        (CallState.LOST, StationSilent, "timed_out"),
        (CallState.EXPIRED, StationBusy, "offline"),
        (CallState.DROPPED, StationOffline, "offline"),
    ],
)
async def test_an_end_without_answer(state: CallState, kind: type[Exception], written: str) -> None:
    diary = Diary()
    order = Order("BAY-01", "cmd-1", Reset(), asyncio.get_running_loop().create_future())
    await conclude(order, ended(state), ADAPTER, diary)
    assert type(await order.outcome) is kind
    assert diary.entries.get_nowait()[:2] == ("cmd-1", written)


async def test_a_late_answer_is_written_and_unblocks_nobody_twice() -> None:
    diary = Diary()
    order = Order("BAY-01", "cmd-1", Reset(), asyncio.get_running_loop().create_future())
    late = ended(CallState.ANSWERED_LATE, payload={"status": "Accepted"})
    await conclude(order, ended(CallState.TIMED_OUT), ADAPTER, diary)
    await conclude(order, late, ADAPTER, diary)
    assert isinstance(await order.outcome, StationSilent)
    assert [diary.entries.get_nowait()[1] for _ in range(2)] == ["timed_out", "answered"]


async def test_the_asker_is_told_even_when_the_journal_is_away(caplog: pytest.LogCaptureFixture) -> None:
    class Torn(Diary):
        async def answered(self, command_id: str, result: CommandResult) -> None:
            raise OSError("no disk")

    order = Order("BAY-01", "cmd-1", Reset(), asyncio.get_running_loop().create_future())
    await conclude(order, ended(CallState.ANSWERED, payload={"status": "Accepted"}), ADAPTER, Torn())
    assert await order.outcome == CommandResult(CommandStatus.ACCEPTED, "Accepted")
    assert "cmd-1 could not be written down" in caplog.text


def test_an_answer_that_our_translator_stumbles_over_is_an_error_and_logged(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def stumble(*_: object) -> CommandResult:
        raise ZeroDivisionError

    monkeypatch.setattr(ADAPTER, "result", stumble)
    result = result_of(ADAPTER, Reset(), ended(CallState.ANSWERED, payload={"status": "Accepted"}))
    assert (result.status, result.detail) == (CommandStatus.ERROR, "the answer could not be translated")
    assert "Reset could not be translated" in caplog.text


def test_a_busy_station_got_nothing() -> None:
    assert "was not sent" in str(StationBusy("BAY-01"))
