"""Order and retries of transaction messages, with time stepped by hand."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime

from tools.simulator.clock import SteppedClock
from tools.simulator.outbox import Letter, Outbox
from tools.simulator.rpc import CallFailed, Offline, Payload, TimedOut

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
Call = Callable[[str, Payload], Awaitable[Payload]]


@asynccontextmanager
async def pumping(call: Call, attempts: int = 3) -> AsyncIterator[tuple[Outbox, SteppedClock, asyncio.Event]]:
    clock, ready = SteppedClock(NOON), asyncio.Event()
    ready.set()
    outbox = Outbox(clock, attempts=lambda: attempts, interval_s=lambda: 60)
    task = asyncio.ensure_future(outbox.pump(call, ready))
    try:
        yield outbox, clock, ready
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def settle() -> None:
    for _ in range(10):
        await asyncio.sleep(0)


async def test_the_worked_example_of_the_retry_rule() -> None:
    """OCPP 1.6 section 3.7.1: attempts 3, interval 60: send, wait 60, send, wait 120, send, give up."""
    sent_at: list[float] = []
    dropped: list[str] = []

    async def call(action: str, payload: Payload) -> Payload:
        sent_at.append((clock.now() - NOON).total_seconds())
        raise CallFailed(action, "InternalError", "") if len(sent_at) % 2 else TimedOut(action)

    async with pumping(call) as (outbox, clock, _):
        outbox.put(Letter(action="StopTransaction", build=dict, dropped=lambda: dropped.append("stop")))
        for _ in range(400):
            await settle()
            clock.advance(1)
        await outbox.emptied()
    assert sent_at == [0, 60, 180]
    assert dropped == ["stop"]
    assert outbox.dropped == 1


async def test_what_waits_behind_a_failing_message_keeps_its_place_and_sees_earlier_answers() -> None:
    sent: list[tuple[str, Payload]] = []
    number: list[int] = []

    async def call(action: str, payload: Payload) -> Payload:
        sent.append((action, payload))
        if len(sent) == 1:
            raise TimedOut(action)
        return {"transactionId": 17}

    async with pumping(call) as (outbox, clock, _):
        outbox.put(Letter(action="Start", build=dict, answered=lambda a: number.append(a["transactionId"])))
        outbox.put(Letter(action="Stop", build=lambda: {"id": number[0]}))
        await settle()
        assert len(outbox) == 2
        clock.advance(60)
        await outbox.emptied()
    assert sent == [("Start", {}), ("Start", {}), ("Stop", {"id": 17})]


async def test_a_line_that_is_down_costs_no_attempt() -> None:
    sends: list[str] = []

    async def call(action: str, payload: Payload) -> Payload:
        sends.append(action)
        if len(sends) < 6:
            raise Offline(action)
        return {}

    async with pumping(call, attempts=1) as (outbox, _, ready):
        ready.clear()
        outbox.put(Letter(action="Meter", build=dict))
        await settle()
        assert sends == []
        ready.set()
        await outbox.emptied()
    assert len(sends) == 6
    assert outbox.dropped == 0
