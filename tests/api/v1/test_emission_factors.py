from typing import Any

import httpx
import pytest

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""Their rows are tested on both databases with the service."""

URL = "/v1/sites/weavers-yard/emission-factors"
NOVEMBER = "from=2026-11-01T00:00:00Z&to=2026-12-01T00:00:00Z"


async def test_a_series_goes_in_and_comes_out(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, yard: dict[str, Any]
) -> None:
    body = {"start": "2026-11-01T00:00:00Z", "step_min": 15, "g_per_kwh": [100, 20.5]}
    assert (await reader.put(URL, json=body)).status_code == 403
    assert (await manager.put(URL, json=body)).json() == {"count": 2}
    assert (await reader.get(f"{URL}?{NOVEMBER}")).json() == {
        "items": [
            {"from_at": "2026-11-01T00:00:00Z", "to_at": "2026-11-01T00:15:00Z", "g_per_kwh": "100"},
            {"from_at": "2026-11-01T00:15:00Z", "to_at": "2026-11-01T00:30:00Z", "g_per_kwh": "20.5"},
        ],
        "more": False,
    }
    assert (await manager.delete(f"{URL}?{NOVEMBER}")).json() == {"count": 2}


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"g_per_kwh": [1]}, "start"),
        ({"start": "2026-11-01T00:00:00Z", "g_per_kwh": []}, "g_per_kwh"),
        ({"start": "2026-11-01T00:00:00Z", "g_per_kwh": [1, -2]}, "g_per_kwh.1"),
        ({"start": "2026-11-01T00:00:00Z", "g_per_kwh": [1], "step_min": 7}, "step_min"),
        ({"start": "9999-12-31T23:30:00Z", "g_per_kwh": [1]}, "start"),
    ],
)
async def test_what_is_no_series_is_refused(
    manager: httpx.AsyncClient, yard: dict[str, Any], body: dict[str, Any], field: str
) -> None:
    refused = await manager.put(URL, json=body)
    assert (refused.status_code, refused.json()["field"]) == (422, field)
