"""Prices by site over REST."""

from typing import Any

import httpx
import pytest

NIGHT = {"start": "2026-11-02T22:00:00+01:00", "end": "2026-11-03T06:00:00+01:00", "per_kwh": "0.4100"}
DAY = {"start": "2026-11-03T06:00:00+01:00", "end": "2026-11-03T22:00:00+01:00", "per_kwh": "1.25"}
URL = "/v1/sites/weavers-yard/prices"


async def test_they_are_put_shown_and_taken_back(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    assert (await manager.get(URL)).status_code == 404
    put = await manager.put(URL, json={"currency": "NOK", "prices": [DAY, NIGHT]})
    assert put.status_code == 200, put.text
    assert put.json() == {
        "currency": "NOK",
        "prices": [
            {"start": "2026-11-02T21:00:00Z", "end": "2026-11-03T05:00:00Z", "per_kwh": "0.4100"},
            {"start": "2026-11-03T05:00:00Z", "end": "2026-11-03T21:00:00Z", "per_kwh": "1.25"},
        ],
    }
    shown = (await manager.get(URL)).json()
    assert [float(each["per_kwh"]) for each in shown["prices"]] == [0.41, 1.25]
    assert (await manager.delete(URL)).status_code == 204
    assert (await manager.delete(URL)).status_code == 404


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"currency": "EUR", "prices": [DAY]}, "currency"),
        ({"currency": "NOK", "prices": []}, "prices"),
        (
            {"currency": "NOK", "prices": [NIGHT, {**DAY, "start": "2026-11-03T05:00:00Z"}, DAY]},
            "prices[2].start",
        ),
        ({"currency": "NOK", "prices": [NIGHT, {**DAY, "start": "2026-11-03T07:00:00Z"}]}, "prices[1].start"),
        ({"currency": "NOK", "prices": [{**DAY, "end": DAY["start"]}]}, "prices[0].end"),
        ({"currency": "NOK", "prices": [{**DAY, "per_kwh": 1.25}]}, "prices"),
        ({"currency": "NOK", "prices": [{**DAY, "per_kwh": "1,25"}]}, "prices"),
    ],
)
async def test_what_is_no_price_list_names_its_place(
    manager: httpx.AsyncClient, yard: dict[str, Any], body: dict[str, Any], field: str
) -> None:
    answer = await manager.put(URL, json=body)
    assert answer.status_code == 422, answer.text
    assert answer.json()["field"].startswith(field), answer.text


async def test_only_a_manager_puts_them(reader: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    assert (await reader.put(URL, json={"currency": "NOK", "prices": [DAY]})).status_code == 403
