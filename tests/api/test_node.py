"""One process, one loop, two servers; it stops in order."""

import asyncio
import os
import signal
import socket
import sys
from pathlib import Path

import httpx
import pytest

from api.node import Node
from csms.settings import load_settings


def node_on(database_url: str, http_port: int = 0) -> Node:
    return Node(load_settings(database_url=database_url, host="127.0.0.1", ocpp_port=0, http_port=http_port))


async def test_both_servers_answer_and_stop(database_url: str) -> None:
    node = node_on(database_url)
    await node.start()
    async with httpx.AsyncClient() as client:
        address = f"{node.http_url}/v1/health"
        assert (await client.get(address)).json()["status"] == "good"
        assert node.ocpp_url.startswith("ws://127.0.0.1:")
        await node.stop()
        with pytest.raises(httpx.ConnectError):
            await client.get(address)


async def test_an_open_event_stream_does_not_hold_up_the_end(database_url: str) -> None:
    node = node_on(database_url)
    await node.start()
    await node.central.people.create("yard", "correct horse 9")
    site = await node.central.sites.create_site(
        name="Weavers' Yard",
        time_zone="Europe/Amsterdam",
        currency="EUR",
        system="TN-400",  # type: ignore[arg-type]
    )
    async with httpx.AsyncClient(base_url=node.http_url, timeout=30) as client:
        await client.post("/sign-in", data={"name": "yard", "password": "correct horse 9"})
        async with client.stream("GET", f"/sites/{site.id}/live") as stream:
            lines = stream.aiter_lines()
            assert (await anext(lines)).startswith(("event:", ":"))
            await asyncio.wait_for(node.stop(), 20)


async def test_a_taken_port_is_an_error(database_url: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken, pytest.raises(OSError, match="in use"):
        await node_on(database_url, http_port=taken.getsockname()[1]).start()


async def test_the_served_process_ends_cleanly_on_a_signal(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "csms", "serve", "--data-dir", str(tmp_path)]
    command += ["--host", "127.0.0.1", "--ocpp-port", "0", "--http-port", "0"]
    process = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE)
    assert process.stdout is not None
    first = (await asyncio.wait_for(process.stdout.readline(), 60)).decode()
    url = first.split()[-1]
    async with httpx.AsyncClient() as client:
        assert (await client.get(f"{url}/v1/health")).status_code == 200
    os.kill(process.pid, signal.SIGTERM)
    assert await asyncio.wait_for(process.wait(), 30) == 0
    assert (tmp_path / "phaseyard.db").exists()
