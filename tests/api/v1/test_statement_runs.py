"""/v1/statement-runs"""

from datetime import UTC, datetime

import httpx

from tests.csms.ledger.small_yard import SmallYard

JANUARY = {"site_id": "yard", "period": "2026-01"}


async def test_a_month_is_previewed_and_issued_once(manager: httpx.AsyncClient, small: SmallYard) -> None:
    await small.january()
    preview = await manager.post("/v1/statement-runs/preview", json=JANUARY)
    assert preview.status_code == 200, preview.text
    seen = preview.json()
    assert seen["ready"]
    assert [(s["member_id"], s["net"], s["gross"]) for s in seen["statements"]] == [
        ("a", "22.00", "27.50"),
        ("b", "66.01", "82.51"),
    ]
    assert len(seen["checks"]) == 10
    assert {check["verdict"] for check in seen["checks"]} == {"PASS", "NOT MEASURED"}
    assert (await manager.get("/v1/statement-runs")).json()["items"] == []
    made = await manager.post("/v1/statement-runs", json=JANUARY)
    assert made.status_code == 201, made.text
    again = await manager.post("/v1/statement-runs", json=JANUARY)
    assert again.json() == made.json()
    assert (await manager.get(made.headers["Location"])).json() == made.json()
    assert (await manager.get("/v1/statement-runs", params={"site": "yard"})).json()["items"] == [made.json()]


async def test_what_stops_a_run_is_told(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, small: SmallYard
) -> None:
    early = await manager.post("/v1/statement-runs", json=JANUARY)
    assert (early.status_code, early.json()["code"]) == (409, "conflict")
    assert "2026-01 is not over yet" in early.json()["detail"]
    await small.ledger.pools.add_register(
        site_id="yard", serial="EV", at=datetime(2025, 12, 31, 23, tzinfo=UTC), register_wh=0
    )
    await small.january()
    unproved = await manager.post("/v1/statement-runs", json=JANUARY)
    assert unproved.status_code == 409
    assert "tree: the main meter has no reading at or after" in unproved.json()["detail"]
    wrong = await manager.post("/v1/statement-runs", json=JANUARY | {"period": "2026-1"})
    assert (wrong.status_code, wrong.json()["field"]) == (422, "period")
    assert (await reader.post("/v1/statement-runs", json=JANUARY)).status_code == 403
    assert (await manager.get("/v1/statement-runs/none")).status_code == 404
