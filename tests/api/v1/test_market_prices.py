"""Feeds, documents and prices over REST."""

from pathlib import Path
from typing import Any

import httpx
import pytest

from csms.app import Central

CSV = b"timestamp,price,unit\n" + b"".join(
    b"2026-11-02T%02d:00:00+01:00,%d,NOK/MWh\n" % (hour, 10 * hour - 20) for hour in range(4)
)
DAY = {"start": "2026-11-01T23:00:00Z", "end": "2026-11-02T05:00:00Z"}
FEED = {"id": "no-1", "name": "East", "currency": "NOK"}


@pytest.fixture
async def feed(manager: httpx.AsyncClient) -> dict[str, Any]:
    made = await manager.post("/v1/market-prices/feeds", json=FEED)
    assert made.status_code == 201, made.text
    assert made.headers["location"] == "/v1/market-prices/feeds/no-1"
    found: dict[str, Any] = made.json()
    return found


async def send(manager: httpx.AsyncClient, raw: bytes = CSV, **params: str) -> httpx.Response:
    return await manager.post("/v1/market-prices/feeds/no-1/documents", content=raw, params=params)


async def test_a_document_is_taken_in_and_its_prices_shown(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, feed: dict[str, Any]
) -> None:
    sent = await send(manager, name="2 November.csv")
    assert sent.status_code == 201, sent.text
    document = sent.json()
    assert (document["name"], document["kind"], document["revision"]) == ("2 November.csv", "csv", 1)
    assert sent.headers["location"] == f"/v1/market-prices/documents/{document['id']}"
    assert (await send(manager)).json() == document
    base = "/v1/market-prices/feeds/no-1"
    assert (await reader.get(f"{base}/documents")).json() == {"items": [document], "next": None}
    assert (await reader.get(sent.headers["location"])).json() == document
    raw = await reader.get(sent.headers["location"] + "/raw")
    assert (raw.content, raw.headers["content-type"]) == (CSV, "application/octet-stream")
    prices = (await reader.get(f"{base}/prices", params=DAY)).json()
    assert prices["currency"] == "NOK"
    assert [price["price_per_mwh"] for price in prices["items"]] == ["-20.00", "-10.00", "0.00", "10.00"]
    assert prices["items"][0] == {
        "start": "2026-11-01T23:00:00Z",
        "end": "2026-11-02T00:00:00Z",
        "price_per_mwh": "-20.00",
        "document_id": document["id"],
        "revision": 1,
    }
    gaps = (await reader.get(f"{base}/gaps", params=DAY)).json()
    assert gaps == {"items": [{"start": "2026-11-02T03:00:00Z", "end": "2026-11-02T05:00:00Z"}]}
    before = {**DAY, "known_at": "2026-01-01T00:00:00Z"}
    assert (await reader.get(f"{base}/prices", params=before)).json()["items"] == []
    assert (await reader.post(f"{base}/documents", content=CSV)).status_code == 403


async def test_a_wrong_document_is_refused_with_its_place(
    manager: httpx.AsyncClient, feed: dict[str, Any]
) -> None:
    for raw, field in (
        (CSV.replace(b",0,", b",free,"), "line 4, price"),
        (CSV.replace(b"NOK", b"EUR", 1), "line 2"),
        (b"<a/>", "document"),
        (b"", "document"),
    ):
        refused = await send(manager, raw)
        assert (refused.status_code, refused.json()["field"]) == (422, field)
    assert (await manager.get("/v1/market-prices/feeds/no-1/documents")).json()["items"] == []


async def test_a_feed_changes_and_goes(manager: httpx.AsyncClient, feed: dict[str, Any]) -> None:
    path = "/v1/market-prices/feeds/no-1"
    url = {"kind": "url", "url": "https://prices.example/{date}"}
    changed = (await manager.patch(path, json={"source": url, "minutes": 15})).json()
    assert changed["source"] == {**url, "every_minutes": 60, "zone": "Europe/Brussels"}
    assert (await manager.get("/v1/market-prices/feeds")).json()["items"] == [changed]
    assert (await manager.patch(path, json={"source": None})).json()["source"] is None
    wrong = await manager.patch(path, json={"source": {"kind": "folder", "path": "../x"}})
    assert (wrong.status_code, wrong.json()["field"]) == (422, "source.path")
    assert (await manager.post("/v1/market-prices/feeds", json=FEED)).status_code == 409
    assert (await manager.post(f"{path}/fetch")).status_code == 409, "it has no source"
    assert (await manager.delete(path)).status_code == 204
    assert (await manager.get(path)).status_code == 404


async def test_a_source_is_asked_by_hand(
    manager: httpx.AsyncClient, central: Central, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(central.price_watch, "_data_dir", tmp_path)
    await manager.post("/v1/market-prices/feeds", json={**FEED, "source": {"kind": "folder", "path": "east"}})
    path = "/v1/market-prices/feeds/no-1"
    failed = (await manager.post(f"{path}/fetch")).json()
    assert failed["fault"].startswith("cannot read east in the folder of prices")
    assert failed["fault_at"] == failed["checked_at"]
    (tmp_path / "prices" / "east").mkdir(parents=True)
    (tmp_path / "prices" / "east" / "day.csv").write_bytes(CSV)
    assert (await manager.post(f"{path}/fetch")).json()["fault"] == ""
    documents = (await manager.get(f"{path}/documents")).json()["items"]
    assert [document["name"] for document in documents] == ["day.csv"]


async def test_times_the_wrong_way_round(manager: httpx.AsyncClient, feed: dict[str, Any]) -> None:
    asked = {"start": DAY["end"], "end": DAY["start"]}
    for kind in ("prices", "gaps"):
        refused = await manager.get(f"/v1/market-prices/feeds/no-1/{kind}", params=asked)
        assert (refused.status_code, refused.json()["field"]) == (422, "end")
