"""Tasks are kept, seen to fail, and ended."""

import asyncio
import logging

import pytest

from csms.tasks import Tasks


async def test_a_failure_is_logged_under_its_name(caplog: pytest.LogCaptureFixture) -> None:
    tasks = Tasks()

    async def fails() -> None:
        raise ValueError("burnt out")

    with caplog.at_level(logging.ERROR):
        task = tasks.spawn(fails(), "lamp")
        await asyncio.wait([task])
        await asyncio.sleep(0)
    assert "task lamp failed" in caplog.text
    assert "burnt out" in caplog.text
    assert len(tasks) == 0


async def test_close_ends_what_runs() -> None:
    tasks = Tasks()
    ended = asyncio.Event()

    async def runs() -> None:
        try:
            await asyncio.Event().wait()
        finally:
            ended.set()

    tasks.spawn(runs(), "forever")
    await asyncio.sleep(0)
    await tasks.close()
    assert ended.is_set()
    assert len(tasks) == 0


async def test_close_asks_again_who_did_not_notice() -> None:
    tasks = Tasks()
    asked = 0

    async def deaf_once() -> None:
        nonlocal asked
        while True:
            try:
                await asyncio.Event().wait()
            except asyncio.CancelledError:
                asked += 1
                if asked > 1:
                    raise

    tasks.spawn(deaf_once(), "deaf")
    await asyncio.sleep(0)
    await tasks.close()
    assert (asked, len(tasks)) == (2, 0)
