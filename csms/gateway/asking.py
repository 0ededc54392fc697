"""Our own commands to one station: sent one at a time, timed, their end written down.

The engine keeps the queue and the deadlines; this side runs its clock, keeps who asked what, and
writes the journal before the asker is told. A late answer is written down and unblocks nobody.
"""

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from typing import Any

from csms.clock import Clock
from csms.errors import StationError, StationOffline
from csms.gateway.admission import provoked_by, why_not_ask
from csms.gateway.orders import UNWRITTEN, Order, conclude
from csms.gateway.outlet import Outlet
from csms.gateway.ports import Journal
from csms.ocpp.adapter import Adapter, Unsupported
from csms.ocpp.rpc import QUEUE_LENGTH, REMEMBERED_CALLS, InvalidOutbound, Rpc
from csms.ocpp.rpc_items import CallEnded, Step
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.model import Registration
from csms.tasks import Tasks

REMEMBERED_ORDERS = QUEUE_LENGTH + REMEMBERED_CALLS + 1
"""As many as the engine can still tell of: queued, open, or ended and perhaps answered late."""


class Asking:
    """The outbound half of a link. `on_silence` is called with the number of timeouts in a row."""

    def __init__(
        self,
        station_id: str,
        rpc: Rpc,
        adapter: Adapter,
        outlet: Outlet,
        journal: Journal,
        clock: Clock,
        on_silence: Callable[[int], None],
    ) -> None:
        self.provoked: set[str] = set()
        self._station_id = station_id
        self._rpc = rpc
        self._adapter = adapter
        self._outlet = outlet
        self._journal = journal
        self._clock = clock
        self._on_silence = on_silence
        self._orders: OrderedDict[str, Order] = OrderedDict()
        self._concluding: set[asyncio.Task[None]] = set()
        self._journaling = Tasks()
        self._timers = Tasks()
        self._timer: asyncio.Task[None] | None = None
        self._timer_at = 0.0
        self._closed = False

    async def ask(
        self,
        command: Command,
        registration: Registration,
        *,
        timeout_s: float,
        ttl_s: float,
        asked_by: str = "",
        routine: bool = False,
    ) -> CommandResult:
        """Send `command` and wait for its end.

        `timeout_s` counts from the sending, `ttl_s` is how long it may wait for its turn; what is
        `routine` is not written into the journal. Raises StationOffline (or StationBusy) when
        nothing was sent, StationSilent when no answer came.
        """
        journal: Journal = UNWRITTEN if routine else self._journal
        written = self._adapter.outbound(command)
        command_id = await journal.asked(self._station_id, command, asked_by=asked_by)
        why_not = why_not_ask(registration, command)
        if isinstance(written, Unsupported) or why_not is not None:
            refusal = (
                CommandResult(CommandStatus.UNSUPPORTED, written.problem)
                if isinstance(written, Unsupported)
                else CommandResult(CommandStatus.REJECTED, why_not or "")
            )
            await journal.answered(command_id, refusal)
            return refusal
        if self._closed:
            await journal.offline(command_id)
            raise StationOffline(self._station_id)
        try:
            order = self._send(command_id, command, *written, timeout_s, ttl_s, routine)
        except InvalidOutbound as error:
            await journal.offline(command_id, str(error))
            raise
        await self._outlet.flush()
        # Shielded: who asked may lose patience, but what came of it is written down all the same.
        outcome = await asyncio.shield(order.outcome)
        if isinstance(outcome, StationError):
            raise outcome
        return outcome

    def _send(
        self,
        command_id: str,
        command: Command,
        action: str,
        payload: dict[str, Any],
        timeout_s: float,
        ttl_s: float,
        routine: bool,
    ) -> Order:
        call_id, step = self._rpc.call(
            action, payload, self._clock.monotonic(), timeout_s=timeout_s, ttl_s=ttl_s
        )
        outcome = asyncio.get_running_loop().create_future()
        order = Order(self._station_id, command_id, command, outcome, routine)
        self._orders[call_id] = order
        if len(self._orders) > REMEMBERED_ORDERS:
            self._orders.popitem(last=False)
        if (provoked := provoked_by(action, payload)) is not None:
            self.provoked.add(provoked)
        self.take(step)
        return order

    def take(self, step: Step) -> None:
        """Line up the texts of `step` and act on those items that tell of our calls."""
        self._outlet.put(step.texts)
        for item in step.items:
            if isinstance(item, CallEnded) and (order := self._orders.get(item.id)) is not None:
                journal: Journal = UNWRITTEN if order.routine else self._journal
                task = self._journaling.spawn(
                    conclude(order, item, self._adapter, journal), f"end of {order.command_id}"
                )
                self._concluding.add(task)
                task.add_done_callback(self._concluding.discard)
        self._watch()

    def _watch(self) -> None:
        """Have one timer for what is due next; one that fires too early only looks again."""
        due = self._rpc.due
        if due is None or self._closed or (self._timer is not None and self._timer_at <= due):
            return
        if self._timer is not None:
            self._timer.cancel()
        self._timer_at = due
        self._timer = self._timers.spawn(self._wake_at(due), f"deadlines of {self._station_id}")

    async def _wake_at(self, due: float) -> None:
        await self._clock.sleep(due - self._clock.monotonic())
        self._timer = None
        # A sleep may end a hair too early; what is due then is due now.
        self.take(self._rpc.tick(max(due, self._clock.monotonic())))
        self._on_silence(self._rpc.counts.silent_in_a_row)
        await self._outlet.flush()

    async def close(self) -> None:
        """The socket has ended: every command that is under way ends with it; its journal is written."""
        self._closed = True
        self.take(self._rpc.close(self._clock.monotonic()))
        await self._timers.close()
        await asyncio.gather(*self._concluding, return_exceptions=True)
