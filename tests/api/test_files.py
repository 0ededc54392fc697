"""What chargers fetch and send, without a key."""

import hashlib
from dataclasses import replace
from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.errors import StationError
from csms.firmware import repository

IMAGE = b"warp" * 1000


@pytest.fixture
async def station(
    manager: httpx.AsyncClient, supply: dict[str, Any], answering: Any, central: Central
) -> str:
    body = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 6}
    assert (await manager.post("/v1/stations", json=body)).status_code == 201
    return "garage-1"


async def test_an_image_is_fetched_whole_and_in_parts(
    manager: httpx.AsyncClient, stranger: httpx.AsyncClient, central: Central
) -> None:
    assert (await manager.post("/v1/firmware-images", json={"id": "w", "version": "2"})).status_code == 201
    token = (await central.firmware.images.get("w")).token
    assert (await stranger.get(f"/files/firmware/{token}")).status_code == 404, "it has not come"
    headers = {"X-SHA256": hashlib.sha256(IMAGE).hexdigest()}
    put = await manager.put("/v1/firmware-images/w/file", content=IMAGE, headers=headers)
    assert put.json()["complete"], put.text
    assert (await stranger.get(f"/files/firmware/{token}")).content == IMAGE
    part = await stranger.get(f"/files/firmware/{token}", headers={"Range": "bytes=4-7"})
    assert (part.status_code, part.content) == (206, b"warp")
    assert (await stranger.get("/files/firmware/guessed")).status_code == 404


async def test_a_log_is_taken_once(
    manager: httpx.AsyncClient, stranger: httpx.AsyncClient, station: str, central: Central
) -> None:
    token = await _asked(central, station)
    headers = {"Content-Disposition": 'attachment; filename="bay 1.log"'}
    sent = await stranger.put(f"/files/logs/{token}", content=b"line", headers=headers)
    assert (sent.status_code, sent.text) == (201, "Taken: 4 bytes.\n")
    assert (await stranger.put(f"/files/logs/{token}", content=b"line")).status_code == 404
    (shown,) = (await manager.get(f"/v1/stations/{station}/logs")).json()["items"]
    assert (shown["state"], shown["file_name"]) == ("received", "bay 1.log")
    file = await manager.get(f"/v1/stations/{station}/logs/{shown['id']}/file")
    assert file.content == b"line"
    assert 'filename="bay1.log"' in file.headers["content-disposition"]


async def test_what_is_empty_is_not_taken(
    manager: httpx.AsyncClient, stranger: httpx.AsyncClient, station: str, central: Central
) -> None:
    token = await _asked(central, station)
    sent = await stranger.post(f"/files/logs/{token}", content=b"")
    assert (sent.status_code, "empty" in sent.text) == (413, True)


async def _asked(central: Central, station: str) -> str:
    """The address of a log that it was asked for; the charger does not answer, which does not matter here."""
    with pytest.raises(StationError):
        await central.firmware.logs.ask(station)
    async with central.database.write() as connection:
        (log,) = (await repository.list_logs(connection, station, after=None, limit=1)).items
        await repository.update_log(connection, replace(log, state="asked"))
    return log.token
