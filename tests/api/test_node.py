"""One node: two servers in one loop, started and stopped in order."""

import asyncio
import socket
from pathlib import Path

import httpx
import pytest

from api.auth import COOKIE
from api.node import Node
from csms.settings import Settings
from csms.sites.model import System


def settings(folder: Path, *, http_port: int = 0, ocpp_port: int = 0) -> Settings:
    return Settings(data_dir=folder, host="127.0.0.1", http_port=http_port, ocpp_port=ocpp_port)


async def test_it_answers_between_start_and_stop(tmp_path: Path) -> None:
    node = Node(settings(tmp_path))
    await node.start()
    async with httpx.AsyncClient(base_url=node.http_url) as client:
        assert (await client.get("/v1/health")).status_code == 200
        assert node.ocpp_url == f"ws://127.0.0.1:{node.central.ocpp_port}/ocpp/"
        await node.stop()
        with pytest.raises(httpx.ConnectError):
            await client.get("/v1/health")


async def test_an_open_page_does_not_hold_up_the_end(tmp_path: Path) -> None:
    node = Node(settings(tmp_path))
    await node.start()
    central = node.central
    await central.sites.create_site(
        id="yard", name="The yard", time_zone="Europe/Oslo", currency="NOK", system=System.TN_400
    )
    await central.people.create("forewoman", "warp and weft 1848")
    async with httpx.AsyncClient(base_url=node.http_url) as client:
        form = {"name": "forewoman", "password": "warp and weft 1848"}
        signed = await client.post("/sign-in", data=form)
        assert COOKIE in signed.cookies
        async with client.stream("GET", "/sites/yard/live") as stream:
            lines = stream.aiter_lines()
            assert "event: totals" in [await anext(lines), await anext(lines)]
            stopping = asyncio.ensure_future(node.stop())
            rest = [line async for line in lines]
            assert "event: events" in rest, "what was begun is sent to its end"
            await asyncio.wait_for(stopping, 10)


@pytest.mark.parametrize("which", ["http_port", "ocpp_port"])
async def test_a_port_that_is_taken_leaves_nothing_open(tmp_path: Path, which: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        node = Node(settings(tmp_path, **{which: taken.getsockname()[1]}))
        with pytest.raises(OSError, match="in use"):
            await node.start()
    again = Node(settings(tmp_path))
    await again.start()
    await again.stop()
