"""The building's meters over REST."""

from typing import Any

import httpx
import pytest

from csms.clock import ManualClock
from csms.metering.inputs import INPUTS, parse_input

MQTT = {
    "kind": "mqtt",
    "host": "10.0.0.7",
    "topic": "yard/supply",
    "lines": {"L1": "a", "L2": {"topic": "yard/l2"}},
    "factor": 0.001,
    "user": "yard",
    "password_file": "broker.pw",
    "tls": True,
}
MODBUS = {
    "kind": "modbus",
    "host": "meter.mill",
    "word_order": "little",
    "lines": {"L1": {"address": 12, "type": "float32"}, "L3": {"address": 16, "type": "i32", "scale": 0.001}},
}
P1 = {"kind": "p1", "host": "10.0.0.8", "port": 2000}
STATION = {"kind": "station", "station_id": "garage-1", "lines": ["L2", "L3", "L1"]}
GIVEN: tuple[dict[str, Any], ...] = ({"kind": "rest"}, MQTT, MODBUS, P1, STATION)


def test_every_kind_is_tried() -> None:
    assert [each["kind"] for each in GIVEN] == [each.kind for each in INPUTS]


@pytest.mark.parametrize("given", GIVEN, ids=lambda given: given["kind"])
async def test_where_readings_come_from_is_kept_as_given(
    manager: httpx.AsyncClient, supply: dict[str, Any], given: dict[str, Any]
) -> None:
    meter = {"counts": "total", "period_s": 5.0, "input": given}
    changed = await manager.patch("/v1/circuits/main", json={"meter": meter})
    assert changed.status_code == 200, changed.text
    assert changed.json()["meter"] == meter
    found = (await manager.get("/v1/circuits/main")).json()["meter"]["input"]
    assert parse_input(found) == parse_input(given)
    status = (await manager.get("/v1/circuits/main/meter")).json()
    assert (status["kind"], status["fresh"], status["last"]) == (given["kind"], False, None)
    assert (status["period_s"], status["silent_after_s"]) == (5.0, 30.0)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({}, "meter.input"),
        ({"kind": "gas"}, "meter.input"),
        (MQTT | {"topic": "a/#"}, "meter.input.topic"),
        (MQTT | {"password": "x"}, "meter.input.mqtt.password"),
        (MQTT | {"lines": {"L1": "a[x]"}}, "meter.input.lines.L1"),
        (MQTT | {"factor": 0}, "meter.input.factor"),
        (MQTT | {"password_file": "../key"}, "meter.input.mqtt.password_file"),
        (MODBUS | {"lines": {"L1": {"address": "12"}}}, "meter.input.modbus.lines.L1.address"),
        (MODBUS | {"lines": {"L1": {"address": 65_535, "type": "u32"}}}, "meter.input.lines.L1.address"),
        (P1 | {"port": 0}, "meter.input.p1.port"),
        (STATION | {"lines": ["L1", "L1", "L2"]}, "meter.input.lines"),
    ],
)
async def test_wrong_settings_are_refused_by_their_field(
    manager: httpx.AsyncClient, supply: dict[str, Any], given: dict[str, Any], field: str
) -> None:
    meter = {"counts": "total", "period_s": 5, "input": given}
    refused = await manager.patch("/v1/circuits/main", json={"meter": meter})
    assert refused.status_code == 422
    told = refused.json()
    assert [each["field"] for each in told.get("errors") or [told]] == [field]
    assert (await manager.get("/v1/circuits/main")).json() == supply


async def test_the_meter_shows_its_last_reading_and_its_age(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, supply: dict[str, Any], clock: ManualClock
) -> None:
    await manager.post("/v1/circuits/main/readings", json={"current_a": {"L1": 21.5, "L3": -3}})
    clock.advance(12)
    assert (await reader.get("/v1/circuits/main/meter")).json() == {
        "circuit_id": "main",
        "kind": "rest",
        "period_s": 10.0,
        "silent_after_s": 30.0,
        "last": {"at": "2026-11-02T11:00:00Z", "current_a": {"L1": 21.5, "L3": -3.0}},
        "age_s": 12.0,
        "fresh": True,
        "missing": ["L2"],
        "error": "",
    }
    clock.advance(19)
    assert not (await reader.get("/v1/circuits/main/meter")).json()["fresh"]


async def test_a_circuit_without_a_meter_shows_none(
    manager: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    await manager.patch("/v1/circuits/main", json={"meter": None})
    assert (await manager.get("/v1/circuits/main/meter")).status_code == 404
    assert (await manager.get("/v1/circuits/cellar/meter")).status_code == 404


async def test_readings_are_not_pushed_to_a_meter_that_is_read(
    manager: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    await manager.patch("/v1/circuits/main", json={"meter": {"counts": "base", "period_s": 5, "input": P1}})
    refused = await manager.post("/v1/circuits/main/readings", json={"current_a": {"L1": 1}})
    assert refused.status_code == 409
    assert "read by p1" in refused.json()["detail"]


async def test_the_document_tells_the_kinds_apart(manager: httpx.AsyncClient) -> None:
    schemas = (await manager.get("/openapi.json")).json()["components"]["schemas"]
    (source, nothing) = schemas["MeterIn"]["properties"]["input"]["anyOf"]
    assert nothing == {"type": "null"}
    assert source["discriminator"]["propertyName"] == "kind"
    assert set(source["discriminator"]["mapping"]) == {each.kind for each in INPUTS}
