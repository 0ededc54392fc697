"""Commands on their way to one station, and what their end means."""

import asyncio
import logging
from dataclasses import dataclass, field

from csms.errors import StationError, StationOffline, StationSilent
from csms.gateway.ports import Journal
from csms.ocpp.adapter import Adapter, Unreadable
from csms.ocpp.call_state import CallState
from csms.ocpp.faults import Fault
from csms.ocpp.rpc_items import CallEnded
from csms.stations.commands import Command, CommandResult, CommandStatus

log = logging.getLogger(__name__)

_UNSUPPORTED = frozenset({Fault.NOT_IMPLEMENTED, Fault.NOT_SUPPORTED, Fault.MESSAGE_TYPE})
_SILENT = frozenset({CallState.TIMED_OUT, CallState.LOST})
_NEVER_SENT = frozenset({CallState.EXPIRED, CallState.DROPPED})


class StationBusy(StationOffline):
    """The command waited behind others until its time was over; nothing was sent."""

    code = "station-busy"

    def __str__(self) -> str:
        return f"station {self.station_id} did not get round to the command in time; it was not sent"


@dataclass(slots=True, eq=False)
class Order:
    """One command under way. `outcome` gets what the asker is told: a result, or why there is none.

    `routine`: one of very many, kept elsewhere and not in the journal (live offers of power).
    """

    station_id: str
    command_id: str
    command: Command
    outcome: asyncio.Future[CommandResult | StationError]
    routine: bool = False
    turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    """Keeps the time-out before the late answer in the journal."""


class Unwritten:
    """The journal of routine: nothing is written."""

    async def asked(self, station_id: str, command: Command, *, asked_by: str = "") -> str:
        return ""

    async def answered(self, command_id: str, result: CommandResult) -> None:
        return None

    async def timed_out(self, command_id: str, detail: str = "") -> None:
        return None

    async def offline(self, command_id: str, detail: str = "") -> None:
        return None


UNWRITTEN = Unwritten()


def result_of(adapter: Adapter, command: Command, ended: CallEnded) -> CommandResult:
    """What an answer, in time or late, comes to. Never raises: an answer that makes no sense is an ERROR."""
    if ended.state in (CallState.REFUSED, CallState.REFUSED_LATE):
        unsupported = Fault.read(ended.code) in _UNSUPPORTED
        status = CommandStatus.UNSUPPORTED if unsupported else CommandStatus.ERROR
        return CommandResult(status, f"{ended.code}: {ended.text}" if ended.text else ended.code)
    try:
        return adapter.result(command, ended.payload)
    except Unreadable as error:
        return CommandResult(CommandStatus.ERROR, f"the answer makes no sense: {error}")
    except Exception:
        log.exception("the answer to %s could not be translated", ended.action)
        return CommandResult(CommandStatus.ERROR, "the answer could not be translated")


async def conclude(order: Order, ended: CallEnded, adapter: Adapter, journal: Journal) -> None:
    """Write down what came of `order`, then tell the asker, who waits for the first end only."""
    outcome: CommandResult | StationError
    if ended.state in _SILENT:
        outcome = StationSilent(order.station_id)
    elif ended.state is CallState.EXPIRED:
        outcome = StationBusy(order.station_id)
    elif ended.state is CallState.DROPPED:
        outcome = StationOffline(order.station_id)
    else:
        outcome = result_of(adapter, order.command, ended)
    async with order.turn:
        try:
            if isinstance(outcome, CommandResult):
                await journal.answered(order.command_id, outcome)
            elif ended.state in _NEVER_SENT:
                await journal.offline(order.command_id, str(outcome))
            elif ended.state is CallState.LOST:
                await journal.timed_out(order.command_id, "the connection ended before the answer")
            else:
                await journal.timed_out(order.command_id)
        except Exception:
            log.exception("the end of command %s could not be written down", order.command_id)
        if not order.outcome.done():
            order.outcome.set_result(outcome)
