from typing import Any

import httpx
import pytest

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""The row is tested on both databases with the service."""

PLACE = {
    "country_code": "BE",
    "party_id": "WEY",
    "address": "Weversgang 1",
    "city": "Gent",
    "postal_code": "9000",
    "country": "BEL",
    "latitude": "51.04530",
    "longitude": "3.72500",
}


async def test_a_site_is_told_its_place(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, yard: dict[str, Any]
) -> None:
    url = "/v1/sites/weavers-yard/location"
    assert (await reader.get(url)).status_code == 404
    assert (await reader.put(url, json=PLACE)).status_code == 403
    put = await manager.put(url, json=PLACE)
    assert put.status_code == 200
    whole = {**PLACE, "connector_standard": "IEC_62196_T2", "connector_format": "SOCKET"}
    assert put.json() == whole == (await reader.get(url)).json()


async def test_faults_are_named(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    url = "/v1/sites/weavers-yard/location"
    refused = await manager.put(url, json={**PLACE, "country": "be", "latitude": "north"})
    assert refused.status_code == 422
    assert {each["field"] for each in refused.json()["errors"]} == {"country", "latitude"}
    assert (await manager.put("/v1/sites/moon/location", json=PLACE)).status_code == 404
    assert (await manager.put(url, json={**PLACE, "planet": "x"})).json()["field"] == "planet"
