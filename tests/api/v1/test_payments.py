"""/v1/payments"""

import httpx

from tests.csms.ledger.small_yard import SmallYard

PAYMENT = {
    "site_id": "yard",
    "member_id": "a",
    "paid_on": "2026-02-20",
    "amount": "27.50",
    "currency": "NOK",
    "reference": "bank 7",
}


async def test_a_payment_is_booked_once(manager: httpx.AsyncClient, small: SmallYard) -> None:
    made = await manager.post("/v1/payments", json=PAYMENT)
    assert made.status_code == 201, made.text
    assert made.json() | PAYMENT == made.json()
    assert (await manager.get(made.headers["Location"])).json() == made.json()
    assert (await manager.get("/v1/payments", params={"member": "a"})).json()["items"] == [made.json()]
    twice = await manager.post("/v1/payments", json=PAYMENT)
    assert twice.status_code == 409
    assert "nothing was booked again" in twice.json()["detail"]


async def test_a_wrong_payment_names_its_field(manager: httpx.AsyncClient, small: SmallYard) -> None:
    for wrong, field in (
        ({"currency": "EUR"}, "currency"),
        ({"amount": "0"}, "amount"),
        ({"amount": 5}, "amount"),
        ({"member_id": "nobody"}, "member_id"),
        ({"paid_on": "soon"}, "paid_on"),
        ({"reference": ""}, "reference"),
    ):
        refused = await manager.post("/v1/payments", json=PAYMENT | wrong)
        assert (refused.status_code, refused.json()["field"]) == (422, field)
    assert (await manager.get("/v1/payments")).json()["items"] == []
