"""A roll-out over a hundred chargers, five of which fail, while some of them charge; and a log by HTTP.

The chargers speak OCPP 1.6 over real sockets and fetch the image by HTTP from the address they are told.
"""

import asyncio
import hashlib
import json
from collections.abc import AsyncIterator
from contextlib import suppress
from itertools import count
from typing import Any

import httpx
import pytest
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed
from websockets.typing import Subprotocol

from api.node import Node
from tests.scenarios.rest import Rest, until

COUNT = 100
FAILING = frozenset({20, 21, 22, 60, 61})
"""Five of a hundred; three of them close together, so that the share is passed on the way."""
CHARGING = frozenset(range(90, 100))
IMAGE = b"warp" * 5000
VERSION = "2.0"


class Bay:
    """A small charger: tells its state, fetches and installs what it is told, notes what it was told when."""

    def __init__(self, url: str, number: int, web: httpx.AsyncClient) -> None:
        self.id = f"roll-{number:03d}"
        self.fails = number in FAILING
        self.charging = False
        self.version = "1.0"
        self.in_use = True
        self.updated_while_charging = False
        self.updates = 0
        self._url, self._web = url, web
        self._numbers = count(1)
        self._socket: ClientConnection | None = None
        self._answers: dict[str, asyncio.Future[Any]] = {}
        self._doing: set[asyncio.Future[None]] = set()

    async def live(self) -> None:
        async with connect(
            f"{self._url}{self.id}", subprotocols=[Subprotocol("ocpp1.6")], proxy=None, open_timeout=60
        ) as socket:
            self._socket = socket
            told = asyncio.ensure_future(self._arrive())
            with suppress(ConnectionClosed):
                async for text in socket:
                    await self._heard(json.loads(text))
            told.cancel()
            for doing in self._doing:
                doing.cancel()

    async def call(self, action: str, payload: dict[str, Any]) -> Any:
        assert self._socket is not None
        message_id = f"b{next(self._numbers)}"
        answer = self._answers[message_id] = asyncio.get_running_loop().create_future()
        await self._socket.send(json.dumps([2, message_id, action, payload]))
        return await answer

    async def _arrive(self) -> None:
        await self._boot()
        await self.call(
            "StatusNotification", {"connectorId": 1, "errorCode": "NoError", "status": "Available"}
        )

    async def _boot(self) -> None:
        boot = {"chargePointVendor": "Weir", "chargePointModel": "Sluice 22", "firmwareVersion": self.version}
        await self.call("BootNotification", boot)

    async def plug_in(self, at: str) -> int:
        self.charging = True
        start = {"connectorId": 1, "idTag": "04D00D", "meterStart": 0, "timestamp": at}
        return int((await self.call("StartTransaction", start))["transactionId"])

    async def unplug(self, number: int, at: str) -> None:
        stop = {"transactionId": number, "meterStop": 100, "timestamp": at, "reason": "Local"}
        await self.call("StopTransaction", stop)
        self.charging = False

    async def _heard(self, frame: list[Any]) -> None:
        if frame[0] == 3:
            self._answers.pop(frame[1]).set_result(frame[2])
        if frame[0] != 2:
            return
        _, message_id, action, payload = frame
        answer: dict[str, Any] = {"status": "Accepted"}
        if action == "ChangeAvailability":
            self.in_use = payload["type"] == "Operative"
        elif action == "UpdateFirmware":
            self.updates += 1
            self.updated_while_charging |= self.charging or self.in_use
            answer = {}
            self._doing.add(asyncio.ensure_future(self._update(payload["location"])))
        elif action == "GetDiagnostics":
            answer = {"fileName": "bay.log"}
            self._doing.add(asyncio.ensure_future(self._send_log(payload["location"])))
        elif action == "GetConfiguration":
            answer = {"configurationKey": [], "unknownKey": []}
        assert self._socket is not None
        await self._socket.send(json.dumps([3, message_id, answer]))

    async def _update(self, address: str) -> None:
        fetched = await self._web.get(address)
        assert (fetched.status_code, fetched.content) == (200, IMAGE)
        await self.call("FirmwareStatusNotification", {"status": "Downloaded"})
        if self.fails:
            await self.call("FirmwareStatusNotification", {"status": "InstallationFailed"})
            return
        await self.call("FirmwareStatusNotification", {"status": "Installing"})
        self.version = VERSION
        await self._boot()

    async def _send_log(self, address: str) -> None:
        await self._web.put(address, content=b"all is well\n")


@pytest.fixture
async def bays(node: Node, rest: Rest) -> AsyncIterator[list[Bay]]:
    async with httpx.AsyncClient(timeout=60) as web:
        made = [Bay(node.ocpp_url, number, web) for number in range(COUNT)]
        await rest.post("/sites", SITE)
        for bay in made:
            await node.central.stations.create(id=bay.id, site_id=SITE["id"])
        living = [asyncio.ensure_future(bay.live()) for bay in made]

        async def booted() -> bool | None:
            found = await node.central.stations.stations_of(SITE["id"])
            return all(station.firmware == "1.0" for station in found) or None

        await until(booted, "all have booted", 90)
        yield made
        for each in living:
            each.cancel()
        await asyncio.gather(*living, return_exceptions=True)


SITE = {
    "id": "long-garage",
    "name": "The long garage",
    "time_zone": "Europe/Oslo",
    "currency": "NOK",
    "system": "TN-400",
}


@pytest.fixture(params=["sqlite"])
def database_url(request: pytest.FixtureRequest, sqlite_template: Any, tmp_path: Any) -> str:
    """One kind is enough for a hundred chargers; the service's own tests run on both."""
    path = tmp_path / "phaseyard.db"
    path.write_bytes(sqlite_template.read_bytes())
    return f"sqlite+aiosqlite:///{path}"


@pytest.mark.timeout(300)
async def test_it_stops_at_the_rate_goes_on_and_updates_nobody_who_charges(
    node: Node, rest: Rest, bays: list[Bay]
) -> None:
    at = node.central.clock.now().isoformat()
    running = {number: await bays[number].plug_in(at) for number in CHARGING}
    await rest.post("/firmware-images", {"id": "warp-2", "version": VERSION, "model": "Sluice 22"})
    sent = await rest.client.put(
        "/firmware-images/warp-2/file",
        content=IMAGE,
        headers={"X-SHA256": hashlib.sha256(IMAGE).hexdigest()},
    )
    assert sent.is_success, sent.text
    body = {"id": "warp", "site_id": SITE["id"], "image_id": "warp-2", "at_once": 10, "most_failed": 0.04}
    await rest.post("/firmware-campaigns", body | {"look_after": 20})
    await rest.post("/firmware-campaigns/warp/start")

    async def is_now(state: str) -> dict[str, Any]:
        async def shown() -> dict[str, Any] | None:
            found = await rest.get("/firmware-campaigns/warp")
            return found if found["state"] == state else None

        return await until(shown, state, 120)

    stopped = await is_now("stopped")
    over = stopped["counts"].get("failed", 0) + stopped["counts"].get("installed", 0)
    assert stopped["counts"]["failed"] > 0.04 * over
    assert stopped["counts"]["waiting"] >= 50, "most were spared"

    async def alarm() -> dict[str, Any] | None:
        found = (await rest.get("/alarms?kind=campaign_stopped"))["items"]
        return found[0] if found else None

    assert (await until(alarm, "people are told"))["severity"] == "warning"

    await rest.post("/firmware-campaigns/warp/start")

    async def only_those_who_charge_wait() -> bool | None:
        counts = (await rest.get("/firmware-campaigns/warp"))["counts"]
        assert counts.get("failed", 0) <= len(FAILING)
        return (counts.get("waiting", 0) == len(CHARGING) and not counts.get("asked")) or None

    await until(only_those_who_charge_wait, "all but those who charge are over", 120)
    for number, transaction in running.items():
        await bays[number].unplug(transaction, at)
    finished = await is_now("finished")
    assert finished["counts"] == {"installed": COUNT - len(FAILING), "failed": len(FAILING)}
    assert not any(bay.updated_while_charging for bay in bays), "none while it charged, none still in use"
    assert all(bay.in_use for bay in bays), "all are back in use"
    assert {bay.updates for bay in bays} == {1}, "each was told once"

    asked = await rest.post(f"/stations/{bays[0].id}/logs", {"kind": "diagnostics"})

    async def come() -> dict[str, Any] | None:
        (log,) = (await rest.get(f"/stations/{bays[0].id}/logs"))["items"]
        return log if log["state"] == "received" else None

    log = await until(come, "the log has come", 60)
    assert (log["id"], log["size_bytes"]) == (asked["id"], len(b"all is well\n"))
    file = await rest.client.get(f"/stations/{bays[0].id}/logs/{log['id']}/file")
    assert file.content == b"all is well\n"
