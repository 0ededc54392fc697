"""/v1/books"""

from datetime import UTC, date, datetime

import httpx

from tests.csms.ledger.small_yard import SITE, SmallYard


async def test_balances_with_the_age_of_what_is_open(manager: httpx.AsyncClient, small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    await small.ledger.payments.create(
        site_id=SITE,
        member_id="a",
        paid_on=date(2026, 2, 10),
        amount_minor=1000,
        currency="NOK",
        reference="bank 1",
    )
    small.at(datetime(2026, 3, 1, 11, tzinfo=UTC))
    first, second = (await manager.get("/v1/books/yard/balances")).json()
    assert (first["balance"], first["oldest_days"]) == ("17.50", 12)
    assert first["items"][0]["open"] == "17.50"
    assert second["member_id"] == "b"
    one = await manager.get("/v1/books/yard/balances", params={"member": "b"})
    assert one.json() == [second]
    assert (await manager.get("/v1/books/moon/balances")).status_code == 404


async def test_the_books_are_checked(manager: httpx.AsyncClient, small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    found = (await manager.get("/v1/books/yard/check")).json()
    assert found["holds"]
    assert [month["period"] for month in found["months"]] == ["2026-01"]
    assert len(found["months"][0]["checks"]) == 10
    none = await manager.get("/v1/books/yard/check", params={"from": "2026-02"})
    assert none.json() == {"holds": True, "months": []}
    wrong = await manager.get("/v1/books/yard/check", params={"from": "2026-03", "to": "2026-02"})
    assert (wrong.status_code, wrong.json()["field"]) == (422, "to")
