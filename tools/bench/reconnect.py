"""A thousand stations dial at once, as after an outage: seconds until all are served, and the memory.

They live in a second process (`reconnecting_stations`), have keys, and tell a boot and a status. Three
times: to a server just started (every key has to be hashed), again to the same one (keys remembered),
and to the bare `websockets` server that answers all with the same two texts and checks nothing.
"""

import asyncio
import json
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from websockets.asyncio.server import ServerConnection, serve
from websockets.typing import Subprotocol

from csms.app import Central
from csms.settings import load_settings

STATIONS = 1_000
KEY = "0123456789abcdef0123456789abcdef01234567"


@asynccontextmanager
async def dialled(url: str, stations: int) -> AsyncIterator[Mapping[str, Any]]:
    """All stations connected while the block runs: what they tell."""
    command = [sys.executable, "-m", "tools.bench.reconnecting_stations", url, str(stations), KEY]
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(*command, stdin=pipe, stdout=pipe, limit=2**22)
    assert process.stdout is not None
    assert process.stdin is not None
    told = json.loads(await process.stdout.readline())
    yield told
    process.stdin.write(b"\n")
    await process.wait()


def memory_mib() -> float:
    """What this process holds now."""
    fields = Path("/proc/self/status").read_text().split("VmRSS:")[1].split()
    return int(fields[0]) / 1024


async def round_of(name: str, url: str, stations: int) -> None:
    """Dial, and print what it took the server."""
    before_mib, spent_s = memory_mib(), time.process_time()
    async with dialled(url, stations) as told:
        cpu_s, mib = time.process_time() - spent_s, memory_mib()
        seconds = told["seconds"]
        half, last = seconds[len(seconds) // 2], seconds[-1]
        print(
            f"{name:44} {told['served']:5} of {stations} served, {told['again']} dialled again; "
            f"half within {half:.1f} s, all within {last:.1f} s; server {cpu_s:.1f} s of processor, "
            f"memory {before_mib:.0f} to {mib:.0f} MiB"
        )


async def ours(stations: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        central = Central(load_settings(data_dir=Path(folder), host="127.0.0.1", ocpp_port=0))
        await central.start()
        try:
            for number in range(stations):
                await central.stations.create(id=f"BAY-{number:04d}", key=KEY)
            url = f"ws://127.0.0.1:{central.ocpp_port}/ocpp/"
            await round_of("ours, just started", url, stations)
            await asyncio.sleep(5)  # the old sockets' ends are written down
            await round_of("ours, keys remembered", url, stations)
        finally:
            await central.stop()


async def bare(stations: int) -> None:
    """The library's server that checks nothing."""
    answers = {
        "BootNotification": {"status": "Accepted", "currentTime": "2026-11-12T18:30:00Z", "interval": 300},
        "StatusNotification": {},
    }

    async def answer(socket: ServerConnection) -> None:
        async for text in socket:
            _, number, action, _ = json.loads(text)
            await socket.send(json.dumps([3, number, answers[action]]))

    names = [Subprotocol("ocpp1.6")]
    async with serve(answer, "127.0.0.1", 0, subprotocols=names, compression=None) as server:
        port = next(iter(server.sockets)).getsockname()[1]
        await round_of("the bare websockets server, no database", f"ws://127.0.0.1:{port}/", stations)


async def main(stations: int = STATIONS) -> None:
    await bare(stations)
    await ours(stations)
