"""/v1/billing"""

import httpx

from tests.csms.ledger.small_yard import SmallYard

TERMS = {
    "issuer": {"name": "Yard", "address": ["Mill Lane 1"], "tax_id": "NO1"},
    "first_month": "2026-01",
    "vat_percent": "25",
    "late": "credit_note",
}


async def test_terms_are_put_and_shown(manager: httpx.AsyncClient, small: SmallYard) -> None:
    put = await manager.put("/v1/billing/sites/yard", json=TERMS)
    assert put.status_code == 200, put.text
    assert (await manager.get("/v1/billing/sites/yard")).json() == put.json()
    assert put.json() | {"late": "credit_note", "loss_bound_percent": "8", "due_days": 14} == put.json()
    assert put.json()["issuer"]["address"] == ["Mill Lane 1"]
    assert (await manager.get("/v1/billing/sites/moon")).status_code == 404


async def test_wrong_terms_name_their_field(manager: httpx.AsyncClient, small: SmallYard) -> None:
    for wrong, field in (
        ({"first_month": "2026-13"}, "first_month"),
        ({"vat_percent": "25.123"}, "vat_percent"),
        ({"issuer": {"name": "Yard"}}, "vat_percent"),
        ({"series": "C"}, "credit_series"),
        ({"late": "never"}, "late"),
        ({"colour": "red"}, "colour"),
    ):
        refused = await manager.put("/v1/billing/sites/yard", json=TERMS | wrong)
        assert (refused.status_code, refused.json()["field"]) == (422, field)


async def test_addresses(manager: httpx.AsyncClient, small: SmallYard) -> None:
    body = {"lines": ["Mill Lane 1", "0001 Oslo"], "language": "nb"}
    assert (await manager.put("/v1/billing/members/a", json=body)).json() == body
    assert (await manager.get("/v1/billing/members/a")).json() == body
    assert (await manager.get("/v1/billing/members/b")).json() == {"lines": [], "language": ""}
    assert (await manager.get("/v1/billing/members/nobody")).status_code == 404
