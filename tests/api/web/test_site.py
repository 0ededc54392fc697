"""The page Site and its stream."""

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.auth import COOKIE
from api.web import site as site_page
from csms.app import Central
from csms.clock import ManualClock
from tests.api.web.visitor import Visitor

PAGE = "/sites/weavers-yard"


@pytest.fixture
async def shared(garage: None, manager: httpx.AsyncClient, central: Central) -> None:
    """The yard is active and its power is shared."""
    made = await manager.patch("/v1/sites/weavers-yard", json={"active": True})
    assert made.status_code == 200, made.text
    await central.power.start()


class Stream:
    """A browser's event stream over ASGI; httpx's transport would wait for its end."""

    def __init__(self, app: FastAPI, visitor: Visitor) -> None:
        cookie = f"{COOKIE}={visitor.client.cookies[COOKIE]}"
        scope: dict[str, Any] = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": "GET",
            "scheme": "http",
            "path": f"{PAGE}/live",
            "raw_path": f"{PAGE}/live".encode(),
            "query_string": b"",
            "root_path": "",
            "headers": [(b"host", b"weavers-yard"), (b"cookie", cookie.encode())],
            "client": ("127.0.0.1", 1),
            "server": ("weavers-yard", 80),
        }
        self.sent: asyncio.Queue[Any] = asyncio.Queue()
        self.gone = asyncio.Event()
        self.answer = asyncio.ensure_future(app(scope, self._receive, self.sent.put))

    async def _receive(self) -> dict[str, Any]:
        await self.gone.wait()
        return {"type": "http.disconnect"}

    async def until(self, *names: str) -> dict[str, str]:
        """Read on until each of `names` has come: the newest data of every event read."""
        found: dict[str, str] = {}
        while not found.keys() >= set(names):
            message = await asyncio.wait_for(self.sent.get(), 20)
            for block in message.get("body", b"").decode().split("\n\n"):
                lines = [line.partition(": ") for line in block.splitlines()]
                name = next((text for key, _, text in lines if key == "event"), "")
                if name:
                    found[name] = "\n".join(text for key, _, text in lines if key == "data")
        return found


ALL = ("totals", "supply", "bays", "events")


@pytest.fixture
async def stream(
    app: FastAPI, forewoman: Visitor, shared: None, monkeypatch: pytest.MonkeyPatch
) -> AsyncIterator[Stream]:
    monkeypatch.setattr(site_page, "AT_MOST_EVERY_S", 0.01)
    monkeypatch.setattr("api.web.panels.AT_MOST_EVERY_S", 0.0)
    monkeypatch.setattr(site_page, "AT_LEAST_EVERY_S", 0.05)
    opened = Stream(app, forewoman)
    yield opened
    opened.gone.set()
    await asyncio.wait_for(opened.answer, 20)


async def test_the_only_site_is_the_first_page(forewoman: Visitor, garage: None) -> None:
    assert (await forewoman.get("/")).url.path == PAGE


async def test_without_a_site_and_with_two_there_is_a_list(
    forewoman: Visitor, manager: httpx.AsyncClient
) -> None:
    got = await forewoman.get("/")
    assert got.url.path == "/sites"
    assert "No site yet." in got.text
    for name in ("Weavers' Yard", "Dye works"):
        body = {"id": name[:3].lower(), "name": name, "time_zone": "Europe/Oslo", "currency": "NOK"}
        made = await manager.post("/v1/sites", json={**body, "system": "TN-400"})
        assert made.status_code == 201, made.text
    listed = (await forewoman.get("/")).text
    assert '<a href="/sites/dye">Dye works</a>' in listed
    assert '<a href="/sites/wea">Weavers&#39; Yard</a>' in listed


async def test_it_shows_supply_bays_and_events_without_script(forewoman: Visitor, shared: None) -> None:
    shown = (await forewoman.get(PAGE)).text
    assert 'aria-label="Supply L1: 30.0 of 63 ampere"' in shown, "its meter is silent: the worst case"
    assert "building meter silent, worst case assumed" in shown
    assert "Bay 1" in shown
    assert "not connected" in shown
    assert "<strong>0</strong> of 1 chargers connected" in shown
    assert "Without script" in shown
    assert 'stream="/sites/weavers-yard/live" name="supply"' in shown


async def test_a_yard_without_anything_says_what_to_do(forewoman: Visitor, yard: dict[str, Any]) -> None:
    shown = (await forewoman.get(PAGE)).text
    assert "No circuit yet." in shown
    assert "No charger yet." in shown


async def test_the_stream_sends_all_parts_and_then_what_changes(
    stream: Stream, manager: httpx.AsyncClient
) -> None:
    head = await asyncio.wait_for(stream.sent.get(), 20)
    headers = {name.decode(): value.decode() for name, value in head["headers"]}
    assert head["status"] == 200
    assert headers["content-type"].startswith("text/event-stream")
    assert "content-security-policy" in headers
    assert (await stream.until(*ALL)).keys() == set(ALL)
    await manager.post("/v1/stations", json={"id": "garage-2", "name": "Bay 2", "site_id": "weavers-yard"})
    changed = await stream.until("bays")
    assert "Bay 2" in changed["bays"]
    assert "supply" not in changed


async def test_a_stream_lasts_through_quiet_times(stream: Stream, clock: ManualClock) -> None:
    await stream.until(*ALL)
    for second in (1, 2, 3):
        # Nobody tells of anything; the look after AT_LEAST_EVERY_S finds the moved clock.
        clock.advance(1)
        assert f"12:00:0{second}" in (await stream.until("totals"))["totals"]


async def test_the_stream_ends_when_the_bus_closes(stream: Stream, central: Central) -> None:
    await stream.until(*ALL)
    central.bus.close()
    await asyncio.wait_for(stream.answer, 20)
    assert central.bus.followers("site:weavers-yard") == 0


async def test_the_stream_ends_when_the_browser_goes(stream: Stream, central: Central) -> None:
    await stream.until(*ALL)
    assert central.bus.followers("site:weavers-yard") == 1
    stream.gone.set()
    await asyncio.wait_for(stream.answer, 20)
    assert central.bus.followers("site:weavers-yard") == 0


async def test_the_stream_ends_when_the_sign_in_does(stream: Stream, central: Central) -> None:
    await stream.until(*ALL)
    await central.people.remove("forewoman")
    await asyncio.wait_for(stream.answer, 20)
