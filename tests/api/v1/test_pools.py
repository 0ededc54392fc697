"""/v1/pools"""

import httpx

from tests.csms.ledger.small_yard import SmallYard

POOL = {
    "id": "grid",
    "site_id": "yard",
    "name": "Grid",
    "amount": "1249.50",
    "vat": "312.38",
    "vat_percent": "25",
    "currency": "NOK",
    "period_start": "2026-01-01",
    "period_end": "2026-02-01",
    "key": "kwh",
}


async def test_an_invoice_is_entered_corrected_and_removed(
    manager: httpx.AsyncClient, small: SmallYard
) -> None:
    made = await manager.post("/v1/pools", json=POOL)
    assert made.status_code == 201, made.text
    assert made.headers["Location"] == "/v1/pools/grid"
    assert made.json() | POOL == made.json()
    change = {key: value for key, value in POOL.items() if key not in ("id", "site_id")}
    changed = await manager.put("/v1/pools/grid", json=change | {"amount": "-8", "vat": "-2", "key": "equal"})
    assert (changed.json()["amount"], changed.json()["key"]) == ("-8.00", "equal")
    assert (await manager.get("/v1/pools", params={"site": "yard"})).json()["items"] == [changed.json()]
    assert (await manager.get("/v1/pools/grid")).json() == changed.json()
    assert (await manager.delete("/v1/pools/grid")).status_code == 204
    assert (await manager.get("/v1/pools/grid")).status_code == 404


async def test_a_wrong_invoice_names_its_field(manager: httpx.AsyncClient, small: SmallYard) -> None:
    for wrong, field in (
        ({"currency": "XYZ"}, "currency"),
        ({"currency": "EUR"}, "currency"),
        ({"vat_percent": None}, "vat_percent"),
        ({"period_start": "2025-01-01"}, "period_start"),
        ({"period_end": "2026-01-01"}, "period_end"),
        ({"amount": "1.005"}, "amount"),
        ({"amount": 12.5}, "amount"),
        ({"key": "size"}, "key"),
        ({"site_id": "moon"}, "site_id"),
    ):
        refused = await manager.post("/v1/pools", json=POOL | wrong)
        assert (refused.status_code, refused.json()["field"]) == (422, field)
    assert (await manager.get("/v1/pools")).json()["items"] == []
