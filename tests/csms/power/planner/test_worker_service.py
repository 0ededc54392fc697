"""A real process: the loop goes on while it works, and its death costs one plan."""

import asyncio
import contextlib
import os
import signal
from collections.abc import AsyncIterator, Callable
from dataclasses import replace

import pytest

from csms.power.planner.problem import PlannedCar, Problem
from csms.power.planner.worker_service import NoPlan, Worker

Car = Callable[..., PlannedCar]
Make = Callable[..., Problem]


@pytest.fixture
async def worker() -> AsyncIterator[Worker]:
    made = Worker(grace_s=100.0)
    yield made
    await made.close()


async def test_the_loop_turns_while_a_plan_is_made(
    worker: Worker, car: Car, problem: Make, capfd: pytest.CaptureFixture[str]
) -> None:
    """60 cars over 96 quarters take far longer than a turn of the loop."""
    turns = 0

    async def count() -> None:
        nonlocal turns
        while True:
            await asyncio.sleep(0)
            turns += 1

    counting = asyncio.ensure_future(count())
    cars = [car(f"c{i}", last=96, seed=i / 60) for i in range(60)]
    prices = tuple(0.1 + (slot % 7) / 20 for slot in range(96))
    found = await worker.solve(problem(*cars, slots=96, supply_a=60.0, prices=prices))
    counting.cancel()
    assert set(found.current_a) == {c.id for c in cars}
    assert turns > 100
    assert worker.pid not in (None, os.getpid())
    assert capfd.readouterr().out == "", "the solver's banner is nobody's answer"


async def test_a_dead_process_costs_one_plan(worker: Worker, car: Car, problem: Make) -> None:
    asked = problem(car("a"))
    await worker.solve(asked)
    first = worker.pid
    assert first is not None
    os.kill(first, signal.SIGKILL)
    with contextlib.suppress(NoPlan):  # unless its death is seen before it is asked: then it is replaced
        await worker.solve(asked)
    found = await worker.solve(asked)
    assert found.short_wh == {"a": 0.0}
    assert worker.pid != first


async def test_a_process_that_hangs_is_stopped(car: Car, problem: Make) -> None:
    worker = Worker(grace_s=0.2)
    try:
        with pytest.raises(NoPlan, match="too long"):
            await worker.solve(replace(problem(car("a")), time_limit_s=-0.1))
        assert worker.pid is None
    finally:
        await worker.close()


async def test_what_the_process_says_is_why_there_is_no_plan(worker: Worker, car: Car, problem: Make) -> None:
    with pytest.raises(NoPlan, match="no plan within"):
        await worker.solve(problem(car("a"), time_limit_s=-1.0))
