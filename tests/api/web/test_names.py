"""Ids to names."""

from typing import Any

import httpx

from api.web.names import names_of, pages_of
from csms.app import Central


async def test_every_thing_of_the_site_has_its_name(
    central: Central, manager: httpx.AsyncClient, garage: None
) -> None:
    made = await manager.post("/v1/stations", json={"id": "garage-2", "site_id": "weavers-yard"})
    assert made.status_code == 201
    names = await names_of(central, await central.sites.get_site("weavers-yard"))
    assert names.circuits == {"main": "Supply"}
    assert names.stations == {"garage-1": "Bay 1", "garage-2": "garage-2"}, "without a name it is its id"
    assert names.all == {
        "weavers-yard": "Weavers' Yard",
        "main": "Supply",
        "garage-1": "Bay 1",
        "garage-2": "garage-2",
        "flat-12": "Flat 12",
        "residents": "Residents",
    }


async def test_what_is_of_another_site_is_not_named(
    central: Central, manager: httpx.AsyncClient, garage: None, yard: dict[str, Any]
) -> None:
    await manager.post("/v1/sites", json={**yard, "id": "dye-works", "name": "Dye works"} | {"active": False})
    names = await names_of(central, await central.sites.get_site("weavers-yard"))
    assert "dye-works" not in names.all


def test_the_pages_of_a_site() -> None:
    assert dict(pages_of("weavers-yard")) == {
        "Site": "/sites/weavers-yard",
        "Access": "/access/weavers-yard",
        "Month": "/month/weavers-yard",
        "Reports": "/reports/weavers-yard",
        "Alarms": "/alarms/weavers-yard",
    }
