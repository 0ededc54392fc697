"""Stations over REST."""

from typing import Any

import httpx
import pytest


@pytest.fixture
async def station(manager: httpx.AsyncClient, supply: dict[str, Any]) -> dict[str, Any]:
    """Bay 1, with two EVSEs, wired with rotation."""
    made = await manager.post(
        "/v1/stations",
        json={
            "id": "garage 1",
            "name": "Bay 1",
            "site_id": "weavers-yard",
            "circuit_id": "main",
            "evses": 2,
            "wiring": ["L2", "L3", "L1"],
            "max_current_a": 32,
            "fallback_a": 6,
        },
    )
    assert made.status_code == 201, made.text
    # RFC 3986: a blank in a path is written %20.
    assert made.headers["location"] == "/v1/stations/garage%201"
    found: dict[str, Any] = made.json()
    return found


async def test_a_station_is_made_and_changed(manager: httpx.AsyncClient, station: dict[str, Any]) -> None:
    assert station == {
        "id": "garage 1",
        "name": "Bay 1",
        "site_id": "weavers-yard",
        "circuit_id": "main",
        "registration": "accepted",
        "wiring": ["L2", "L3", "L1"],
        "max_current_a": 32.0,
        "step_a": 1.0,
        "fallback_a": 6.0,
        "can_choose_line": False,
        "keeps_profiles": True,
        "expected_serial": "",
        "has_key": False,
        "vendor": "",
        "model": "",
        "serial": "",
        "firmware": "",
        "protocol": "",
        "booted_at": None,
        "connected": False,
        "presence_at": None,
        "last_seen_at": None,
        "created_at": "2026-11-02T11:00:00Z",
    }
    change = {"wiring": ["L3"], "step_a": 0.1, "registration": "rejected"}
    changed = await manager.patch("/v1/stations/garage%201", json=change)
    assert changed.json() == station | change
    assert (await manager.get("/v1/stations/garage%201")).json() == changed.json()
    assert (await manager.get("/v1/stations?site=weavers-yard")).json()["items"] == [changed.json()]
    assert (await manager.get("/v1/stations?site=mill")).json()["items"] == []


async def test_its_evses_are_counted(manager: httpx.AsyncClient, station: dict[str, Any]) -> None:
    evses = (await manager.get("/v1/stations/garage%201/evses")).json()["items"]
    assert [(evse["number"], evse["status"], evse["status_at"]) for evse in evses] == [
        (1, "unavailable", None),
        (2, "unavailable", None),
    ]
    assert (await manager.get("/v1/stations/nothing/evses")).status_code == 404


async def test_its_key_is_shown_once(manager: httpx.AsyncClient, station: dict[str, Any]) -> None:
    made = await manager.post("/v1/stations/garage%201/key")
    key = made.json()["key"]
    # OCPP-J 1.6, 6.2.1: a key of 20 bytes, 40 characters in hexadecimal.
    assert len(bytes.fromhex(key)) == 20
    shown = await manager.get("/v1/stations/garage%201")
    assert shown.json() == station | {"has_key": True}
    assert key not in shown.text
    given = await manager.post("/v1/stations/garage%201/key", json={"key": "a key of the installer"})
    assert given.json() == {"key": "a key of the installer"}
    assert (await manager.delete("/v1/stations/garage%201/key")).status_code == 204
    assert (await manager.get("/v1/stations/garage%201")).json() == station
    assert (await manager.post("/v1/stations/nothing/key")).status_code == 404


@pytest.mark.parametrize("key", ["short", 5, "", "x" * 81])
async def test_a_key_that_no_station_takes_is_refused(
    manager: httpx.AsyncClient, station: dict[str, Any], key: object
) -> None:
    refused = await manager.post("/v1/stations/garage%201/key", json={"key": key})
    assert (refused.status_code, refused.json()["field"]) == (422, "key")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"id": "a:b"}, "id"),
        ({"id": "x" * 49}, "id"),
        ({"site_id": "mill"}, "site_id"),
        ({"circuit_id": "cellar"}, "circuit_id"),
        ({"site_id": None}, "site_id"),
        ({"evses": 0}, "evses"),
        ({"evses": 2.5}, "evses"),
        ({"wiring": []}, "wiring"),
        ({"wiring": ["L1", "L1"]}, "wiring[1]"),
        ({"wiring": ["N"]}, "wiring.0"),
        ({"max_current_a": 5}, "max_current_a"),
        ({"step_a": 0.5}, "step_a"),
        ({"fallback_a": 3}, "fallback_a"),
        ({"fallback_a": 40}, "fallback_a"),
        ({"keeps_profiles": "no"}, "keeps_profiles"),
        ({"connected": True}, "connected"),
    ],
)
async def test_a_wrong_station_is_refused_by_its_field(
    manager: httpx.AsyncClient, supply: dict[str, Any], wrong: dict[str, Any], field: str
) -> None:
    body = {"id": "garage-2", "site_id": "weavers-yard", "circuit_id": "main"} | wrong
    refused = await manager.post("/v1/stations", json=body)
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]
    assert (await manager.get("/v1/stations")).json()["items"] == []


async def test_a_station_is_there_once_and_goes(manager: httpx.AsyncClient, station: dict[str, Any]) -> None:
    assert (await manager.post("/v1/stations", json={"id": "garage 1"})).status_code == 409
    assert (await manager.delete("/v1/stations/garage%201")).status_code == 204
    assert (await manager.get("/v1/stations/garage%201")).status_code == 404


async def test_frames_that_could_not_be_read_are_shown(
    manager: httpx.AsyncClient, station: dict[str, Any], central: Any
) -> None:
    for frame in (b'[2,"1","Boo', b"\xff\x00", "[ü".encode()):
        await central.quarantine.keep("garage 1", frame, "is not JSON", central.clock.now())
    first = (await manager.get("/v1/stations/garage%201/quarantine?limit=2")).json()
    assert [frame["frame"] for frame in first["items"]] == ["[ü", "\\xff\x00"]
    rest = await manager.get("/v1/stations/garage%201/quarantine", params={"after": first["next"]})
    assert rest.json()["items"] == [
        {
            "id": rest.json()["items"][0]["id"],
            "at": "2026-11-02T11:00:00Z",
            "reason": "is not JSON",
            "frame": '[2,"1","Boo',
            "replayed_at": None,
            "outcome": None,
        }
    ]
    assert (await manager.get("/v1/stations/nothing/quarantine")).status_code == 404


async def test_its_variables_are_shown(manager: httpx.AsyncClient, station: dict[str, Any]) -> None:
    assert (await manager.get("/v1/stations/garage%201/variables")).json() == {"items": [], "next": None}
    assert (await manager.get("/v1/stations/nothing/variables")).status_code == 404
