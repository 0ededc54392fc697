"""The page Reports."""

import re
from html import unescape

import httpx
import pytest

from api.reports import REPORTS
from csms.app import Central
from csms.clock import ManualClock
from csms.stations.model import TokenRef
from csms.stations.questions import TransactionReported, TransactionStep
from tests.api.web.visitor import CARD, Visitor

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""The SQL behind it is tested on both databases in tests/api/reports."""

PAGE = "/reports/weavers-yard"


@pytest.fixture
async def charged(garage: None, central: Central) -> None:
    """An hour of Flat 12, 7.36 kWh."""
    assert isinstance(central.clock, ManualClock)
    for step, register_wh in ((TransactionStep.BEGAN, 1_000), (TransactionStep.ENDED, 8_360)):
        told = TransactionReported(
            step=step,
            transaction_id="tx-1",
            at=central.clock.now(),
            evse=1,
            token=TokenRef(CARD),
            register_wh=register_wh,
        )
        await central.dispatcher.ask("garage-1", told, central.clock.now())
        central.clock.advance(3600)


async def test_the_list_leads_to_every_report(charged: None, onlooker: Visitor) -> None:
    text = (await onlooker.get(PAGE)).text
    for kind in REPORTS:
        assert f'href="{PAGE}/{kind.id}"' in text
        form = await onlooker.get(f"{PAGE}/{kind.id}")
        assert form.status_code == 200
        assert 'name="month" value="2026-11"' in form.text, "the month that runs is filled in"
        assert "<svg" not in form.text


async def test_a_report_with_table_chart_notes_and_files(charged: None, onlooker: Visitor) -> None:
    text = (await onlooker.get(f"{PAGE}/energy?month=2026-11&by=member&from=&to=")).text
    assert "Energy and cost by member" in text
    assert '<tr class="item"><th scope="row">Flat 12</th>' in text
    assert '<td class="n">7.36</td>' in text
    assert text.count("<svg") == 1
    assert "Sessions without a price: 1" in text
    [address] = [unescape(each) for each in re.findall(r'<a href="([^"]+format=csv)">', text)]
    written = await onlooker.get(address)
    assert written.headers["content-type"].startswith("text/csv")
    assert "Flat 12" in written.text


async def test_what_cannot_be_is_said_with_the_form_kept(charged: None, onlooker: Visitor) -> None:
    for query, words in (
        ("energy?month=2026-13", "month: must be a year and a month"),
        ("energy?from=2026-11-01", "to: is missing"),
        ("energy?month=2026-11&by=colour", "by: must be one of"),
        ("energy?month=2026-11&planet=x", "planet: the report energy has no such parameter"),
        ("reimbursement?month=2026-11", "rate: is missing"),
        ("load?month=2026-11&circuit=attic", "there is no circuit"),
    ):
        answer = await onlooker.get(f"{PAGE}/{query}")
        assert (answer.status_code, words in unescape(answer.text)) == (422, True), query
        assert f'action="{PAGE}/{query.split("?")[0]}"' in answer.text
    assert (await onlooker.get(f"{PAGE}/nothing")).status_code == 404
    assert (await onlooker.get("/reports/moon")).status_code == 404


async def test_names_do_no_harm(manager: httpx.AsyncClient, charged: None, onlooker: Visitor) -> None:
    renamed = await manager.patch("/v1/members/flat-12", json={"name": "<b>=1+1</b>"})
    assert renamed.status_code == 200, renamed.text
    text = (await onlooker.get(f"{PAGE}/energy?month=2026-11")).text
    assert "<b>" not in text
    assert "&lt;b&gt;=1+1" in text


async def test_nobody_looks_without_signing_in(charged: None, visitor: Visitor) -> None:
    for address in (PAGE, f"{PAGE}/energy?month=2026-11"):
        assert "Password" in (await visitor.get(address)).text
