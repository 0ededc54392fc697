"""Documents over REST. What is in them is checked in tests/csms/documents."""

import asyncio
import hashlib
import io
import zipfile
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import httpx
import openpyxl
import pytest

from api.v1.documents import attached
from csms.app import Central
from csms.clock import ManualClock
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""What the services do on both databases is tested with them."""

SITE, PERIOD = "weavers-yard", "2026-11"
MONTH = f"/v1/documents?site={SITE}&period={PERIOD}"
SETTINGS = f"/v1/documents/settings/{SITE}"


@pytest.fixture
async def issued(central: Central, clock: ManualClock, yard: dict[str, Any], flat: dict[str, Any]) -> None:
    """November of Flat 12: a share of 1,000.00 and 25 % VAT."""
    issuer = Issuer(name="The Yard", tax_id="NO123456789MVA", country="NO")
    await central.ledger.billing.set_terms(SITE, Terms(issuer=issuer, first_month=PERIOD))
    await central.ledger.pools.create(
        site_id=SITE,
        name="Upkeep",
        amount_minor=100_000,
        vat_minor=25_000,
        vat_percent=Decimal(25),
        currency="NOK",
        period_start=date(2026, 11, 1),
        period_end=date(2026, 12, 1),
        key=Key.EQUAL,
    )
    clock.advance(timedelta(days=31).total_seconds())
    await central.ledger.issuing.issue(SITE, PERIOD)


async def make(central: Central, manager: httpx.AsyncClient) -> dict[str, Any]:
    """Ask for the documents and wait until they are there."""
    asked = await manager.post("/v1/documents", json={"site_id": SITE, "period": PERIOD})
    assert asked.status_code == 202, asked.text
    await asyncio.gather(*(task for task in central.tasks._tasks if "documents of" in task.get_name()))
    found: dict[str, Any] = (await manager.get(MONTH)).json()
    return found


async def test_a_month_is_made_and_handed_out(
    issued: None, central: Central, manager: httpx.AsyncClient, reader: httpx.AsyncClient
) -> None:
    before = (await reader.get(MONTH)).json()
    assert before == {"statements": 1, "made": 0, "running": False, "failures": [], "items": []}
    await manager.put(SETTINGS, json={"e_invoice": True})
    told = await make(central, manager)
    assert (told["statements"], told["made"], told["running"], told["failures"]) == (1, 1, False, [])
    (item,) = told["items"]
    assert (item["number"], item["member_name"], item["electronic"]) == ("S-00001", "Flat 12", True)
    address = f"/v1/documents/{item['statement_id']}"
    assert (await reader.get(address)).json() == item
    pdf = await reader.get(f"{address}/pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert 'filename="S-00001 Flat 12.pdf"' in pdf.headers["content-disposition"]
    assert (hashlib.sha256(pdf.content).hexdigest(), len(pdf.content)) == (item["hash"], item["size"])
    xml = await reader.get(f"{address}/invoice")
    assert xml.headers["content-type"] == "application/xml"
    assert b"<ram:GrandTotalAmount>1250.00<" in xml.content
    packed = await reader.get(f"/v1/documents/archive?site={SITE}&period={PERIOD}")
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        assert archive.read("S-00001 Flat 12.pdf") == pdf.content


async def test_settings_are_kept_whole(yard: dict[str, Any], manager: httpx.AsyncClient) -> None:
    first = (await manager.get(SETTINGS)).json()
    assert not first["e_invoice"]
    assert first["columns"][0] == {"content": "number", "name": ""}
    wanted = {
        "e_invoice": True,
        "columns": [{"content": "member_account", "name": "Debtor"}, {"content": "amount", "name": ""}],
        "rows_per": "line",
        "decimal_sign": ",",
        "separator": ";",
        "account": "4000",
        "accounts": {"pool_share": "4100", "vat": "1776"},
        "member_accounts": {"flat-12": "10012"},
    }
    assert (await manager.put(SETTINGS, json=wanted)).json() == wanted
    assert (await manager.get(SETTINGS)).json() == wanted
    assert (await manager.put(SETTINGS, json={})).json() == first


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"columns": []}, "columns"),
    ({"columns": [{"content": "mood"}]}, "columns.0.content"),
    ({"decimal_sign": ","}, "separator"),
    ({"accounts": {"coffee": "1"}}, "accounts.coffee"),
    ({"rows_per": "page"}, "rows_per"),
    ({"invoice": True}, "invoice"),
]


async def test_wrong_settings_name_their_field(yard: dict[str, Any], manager: httpx.AsyncClient) -> None:
    for body, field in WRONG:
        refused = await manager.put(SETTINGS, json=body)
        assert (refused.status_code, refused.json()["field"]) == (422, field)


async def test_the_rent_ledger_is_written_by_the_sites_columns(
    issued: None, manager: httpx.AsyncClient, reader: httpx.AsyncClient
) -> None:
    await manager.put(
        SETTINGS,
        json={
            "columns": [
                {"content": "member_account", "name": "Debtor"},
                {"content": "account"},
                {"content": "amount"},
            ],
            "rows_per": "line",
            "decimal_sign": ",",
            "separator": ";",
            "accounts": {"pool_share": "4100", "vat": "1776"},
            "member_accounts": {"flat-12": "10012"},
        },
    )
    address = f"/v1/documents/rent-ledger?site={SITE}&period={PERIOD}"
    written = await reader.get(f"{address}&language=de")
    assert written.text == "Debtor;Konto;Betrag\r\n10012;4100;1000,00\r\n10012;1776;250,00\r\n"
    assert f'filename="{SITE}-{PERIOD}.csv"' in written.headers["content-disposition"]
    book = openpyxl.load_workbook(io.BytesIO((await reader.get(f"{address}&format=xlsx")).content))
    assert book.active is not None
    assert [[cell.value for cell in row] for row in book.active.iter_rows()] == [
        ["Debtor", "Account", "Amount"],
        ["10012", "4100", 1000],
        ["10012", "1776", 250],
    ]


NOT_THERE = {
    "?site=nowhere&period=2026-11": 404,
    "?site=weavers-yard&period=2026-13": 422,
    "?site=weavers-yard": 422,
    "/archive?site=weavers-yard&period=2026-11": 409,
    "/rent-ledger?site=weavers-yard&period=2026-10": 409,
    "/rent-ledger?site=weavers-yard&period=2026-11&language=fi": 422,
    "/st_none": 404,
    "/st_none/pdf": 404,
    "/st_none/invoice": 404,
    "/settings/nowhere": 404,
}


async def test_what_is_not_there_is_refused(issued: None, reader: httpx.AsyncClient) -> None:
    found = {path: (await reader.get(f"/v1/documents{path}")).status_code for path in NOT_THERE}
    assert found == NOT_THERE


async def test_who_may_only_read_makes_nothing(issued: None, reader: httpx.AsyncClient) -> None:
    body = {"site_id": SITE, "period": PERIOD}
    assert (await reader.post("/v1/documents", json=body)).status_code == 403
    assert (await reader.put(SETTINGS, json={})).status_code == 403


async def test_a_month_that_is_not_issued_cannot_be_made(issued: None, manager: httpx.AsyncClient) -> None:
    refused = await manager.post("/v1/documents", json={"site_id": SITE, "period": "2026-12"})
    assert refused.status_code == 409
    assert "issue the month first" in refused.json()["detail"]


def test_a_file_name_is_told_in_letters_that_every_browser_reads(database_url: str) -> None:
    """RFC 6266 with RFC 8187: the plain name for the old, the true one for the others."""
    told = attached('S-1 Ærø "x".pdf')["Content-Disposition"]
    assert (
        told == "attachment; filename=\"S-1 _r_ _x_.pdf\"; filename*=UTF-8''S-1%20%C3%86r%C3%B8%20%22x%22.pdf"
    )
