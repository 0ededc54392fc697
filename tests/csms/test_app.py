"""The composition root: starts, stops, and puts right what a restart finds."""

import base64

import orjson
import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus
from websockets.typing import Subprotocol

from csms.app import Central
from csms.settings import load_settings
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS

KEY = "weft-and-warp-0123456789"


def central_on(database_url: str) -> Central:
    return Central(load_settings(database_url=database_url, host="127.0.0.1", ocpp_port=0))


async def boot(central: Central, identity: str) -> str:
    """Connect as a charger, boot, and leave again; the registration it was told."""
    secret = base64.b64encode(f"{identity}:{KEY}".encode()).decode()
    async with connect(
        f"ws://127.0.0.1:{central.ocpp_port}/ocpp/{identity}",
        subprotocols=[Subprotocol("ocpp1.6")],
        additional_headers={"Authorization": f"Basic {secret}"},
    ) as socket:
        body = {"chargePointVendor": "Selvedge", "chargePointModel": "Twill"}
        await socket.send(orjson.dumps([2, "1", "BootNotification", body]).decode())
        while True:
            frame = orjson.loads(await socket.recv())
            if frame[:2] == [3, "1"]:
                return str(frame[2]["status"])


async def test_everything_that_a_station_can_say_has_an_owner(database_url: str) -> None:
    assert central_on(database_url).dispatcher.unowned((*QUESTIONS, *EVENTS)) == []


async def test_a_known_charger_is_served_an_unknown_one_is_not(database_url: str) -> None:
    central = central_on(database_url)
    await central.start()
    try:
        await central.stations.create(id="BAY-01", key=KEY)
        assert await boot(central, "BAY-01") == "Accepted"
        station = await central.stations.get("BAY-01")
        assert (station.vendor, station.model, station.protocol) == ("Selvedge", "Twill", "1.6")
        with pytest.raises(InvalidStatus) as refused:
            await boot(central, "BAY-99")
        assert refused.value.response.status_code == 404
    finally:
        await central.stop()


async def test_after_a_crash_nobody_counts_as_connected(database_url: str) -> None:
    first = central_on(database_url)
    await first.database.open()
    await first.stations.create(id="BAY-01", key=KEY)
    await first._sockets.connected("BAY-01", "ocpp1.6", first.clock.now())
    assert (await first.stations.get("BAY-01")).connected
    await first.database.close()  # as after a crash: nobody was told that the socket is gone
    second = central_on(database_url)
    await second.start()
    try:
        assert not (await second.stations.get("BAY-01")).connected
        told = (await second.history.latest(topic="station.lost")).items
        assert [fact.subject for fact in told] == ["BAY-01"]
    finally:
        await second.stop()


async def test_a_taken_port_is_an_error_and_leaves_nothing_open(database_url: str) -> None:
    first = central_on(database_url)
    await first.start()
    second = Central(load_settings(database_url=database_url, host="127.0.0.1", ocpp_port=first.ocpp_port))
    try:
        with pytest.raises(OSError, match="in use"):
            await second.start()
    finally:
        await second.stop()
        await first.stop()
