"""The relay of a P1 port; its telegrams are tested in test_telegram."""

import asyncio
import contextlib
from pathlib import Path

from tests.csms.metering.conftest import SUPPLY, Yard
from tests.csms.metering.rigs import P1Rig, until


async def test_a_relay_that_repeats_its_last_telegram_tells_nothing_new(yard: Yard, tmp_path: Path) -> None:
    rig = P1Rig(tmp_path)
    await rig.start()
    await yard.measure(rig.config)
    await yard.meters.start()
    telegram = rig.telegram((5.0, 5.0, 5.0))
    rig.send(telegram)
    await yard.heard.waits_for({"L1": 5.0, "L2": 5.0, "L3": 5.0})
    rig.send(telegram)
    await until(lambda: "came again" in yard.meters.shown(SUPPLY).error)
    assert yard.heard.readings.empty()
    await rig.stop()


async def test_a_relay_that_says_nothing_is_called_again(yard: Yard, tmp_path: Path) -> None:
    calls: asyncio.Queue[asyncio.StreamWriter] = asyncio.Queue()

    async def come(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        calls.put_nowait(writer)

    rig = P1Rig(tmp_path)
    server = await asyncio.start_server(come, "127.0.0.1", rig.port)
    await yard.measure(rig.config)
    await yard.meters.start()
    async with asyncio.timeout(20):
        first = await calls.get()
        await until(lambda: "nothing came for 1 s" in yard.meters.shown(SUPPLY).error)
        second = await calls.get()
    await yard.meters.stop()
    for writer in (first, second):
        writer.close()
        with contextlib.suppress(OSError):
            await writer.wait_closed()
    server.close()


async def test_where_nobody_listens_it_is_said(yard: Yard, tmp_path: Path) -> None:
    rig = P1Rig(tmp_path)
    await yard.measure(rig.config)
    await yard.meters.start()
    await until(lambda: f"no connection to 127.0.0.1:{rig.port}" in yard.meters.shown(SUPPLY).error)
