"""The close of November 2026 by the page, for a yard of two flats that share an invoice."""

import re
from typing import Any

import pytest

from csms.app import Central
from csms.clock import ManualClock
from tests.api.web.treasurer import MONTH, PAGE, SITE, invoice, november
from tests.api.web.visitor import Visitor

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""What the services do on both databases is tested with them."""

CONFIRM = f"{PAGE}/confirm?month={MONTH}"


@pytest.fixture
async def ready(central: Central, clock: ManualClock, yard: dict[str, Any], flat: dict[str, Any]) -> None:
    await november(central, clock)


def shown(html: str) -> str:
    found = re.search(r'name="shown" value="([^"]+)"', html)
    assert found is not None
    return found[1]


async def test_the_page_is_in_the_head_line_and_asks_for_a_sign_in(
    visitor: Visitor, yard: dict[str, Any]
) -> None:
    asked = await visitor.get(PAGE)
    assert asked.url.path == "/sign-in"
    await visitor.sign_in("forewoman")
    assert f'<a href="{PAGE}" aria-current="page">Month</a>' in (await visitor.get(PAGE)).text
    assert (await visitor.get("/month/nowhere")).status_code == 404
    assert (await visitor.get(f"{PAGE}?month=soon")).status_code == 404


async def test_steps_are_told_with_a_preview_and_the_proof(forewoman: Visitor, ready: None) -> None:
    page = (await forewoman.get(PAGE)).text
    assert "<h1>November 2026</h1>" in page
    assert "2 documents, 1250.00 NOK in all" in page
    assert "9 of 10 reconciliations hold; not measured: Main meter, chargers, losses" in page
    assert "There is no main meter" in page
    assert page.index(">Flat 2<") < page.index(">Flat 12<")
    assert page.count(">625.00<") == 4, "total and open, of both flats"
    assert "Go on to the issue of 2 documents" in page


async def test_what_stands_in_the_way_is_said_and_nothing_can_be_issued(
    forewoman: Visitor, ready: None, central: Central, clock: ManualClock
) -> None:
    """By the clock it is 3 December: December is not over."""
    await central.ledger.issuing.issue(SITE, MONTH)
    page = (await forewoman.get(PAGE)).text
    assert "<h1>December 2026</h1>" in page
    assert 'Steps not done yet: <a href="#step-over">the month is over</a>' in page
    assert "Go on to the issue" not in page
    refused = await forewoman.get(f"{PAGE}/confirm?month=2026-12")
    assert "Steps not done yet: the month is over." in refused.text
    refused = await forewoman.send(f"{PAGE}/issue", month="2026-12", shown="0" * 32)
    assert "Not done: something has come in since" in refused.text
    assert len((await central.ledger.issuing.runs(site_id=SITE)).items) == 1


async def test_a_month_out_of_turn_is_said(forewoman: Visitor, ready: None) -> None:
    page = (await forewoman.get(f"{PAGE}?month=2027-01")).text
    assert "No preview: 2026-11 comes first: months are billed in order." in page
    refused = await forewoman.get(f"{PAGE}/confirm?month=2027-01")
    assert "No preview: 2026-11 comes first" in refused.text


async def test_the_sums_are_confirmed_before_the_issue(
    forewoman: Visitor, ready: None, central: Central
) -> None:
    asked = (await forewoman.get(CONFIRM)).text
    assert "Issue 2 documents over 1250.00 NOK" in asked
    assert "S-00001 to S-00002" in asked
    assert "There is no main meter" in asked, "what to know before"
    assert (await central.ledger.issuing.runs(site_id=SITE)).items == ()
    done = await forewoman.send(f"{PAGE}/issue", month=MONTH, shown=shown(asked))
    assert "November 2026 is issued: 2 documents. They are being made." in done.text
    (run,) = (await central.ledger.issuing.runs(site_id=SITE)).items
    assert run.period == MONTH
    page = (await forewoman.get(f"{PAGE}?month={MONTH}")).text
    assert "S-00001" in page
    assert "10 of 10" not in page
    assert "Upkeep" not in page, "what is issued is not entered any more"
    again = await forewoman.get(CONFIRM)
    assert "November 2026 is issued already." in again.text


async def test_sums_that_have_changed_since_are_not_issued(
    forewoman: Visitor, ready: None, central: Central
) -> None:
    asked = (await forewoman.get(CONFIRM)).text
    await invoice(central, "Late and dear", 900_000)
    done = await forewoman.send(f"{PAGE}/issue", month=MONTH, shown=shown(asked))
    assert "Not done: something has come in since, and the sums are others." in done.text
    assert (await central.ledger.issuing.runs(site_id=SITE)).items == ()


async def test_sending_it_twice_issues_once(forewoman: Visitor, ready: None, central: Central) -> None:
    asked = (await forewoman.get(CONFIRM)).text
    for _ in range(2):
        done = await forewoman.send(f"{PAGE}/issue", month=MONTH, shown=shown(asked))
        assert "November 2026 is issued: 2 documents." in done.text
    assert len((await central.ledger.issuing.statements(site_id=SITE)).items) == 2


async def test_without_terms_nothing_else_is_shown(forewoman: Visitor, yard: dict[str, Any]) -> None:
    page = (await forewoman.get(PAGE)).text
    assert "Enter this first" in page
    assert "Steps" not in page
    assert "Not yet: say first who issues." in (await forewoman.get(CONFIRM)).text


async def test_who_may_only_look_sees_all_and_issues_nothing(
    onlooker: Visitor, ready: None, central: Central
) -> None:
    page = (await onlooker.get(PAGE)).text
    assert "All is ready. Somebody who may change things can issue it." in page
    assert "Go on to the issue" not in page
    asked = (await onlooker.get(CONFIRM)).text
    refused = await onlooker.send(f"{PAGE}/issue", month=MONTH, shown=shown(asked))
    assert refused.status_code == 403
    assert (await central.ledger.issuing.runs(site_id=SITE)).items == ()


async def test_a_form_of_somebody_else_issues_nothing(
    forewoman: Visitor, ready: None, central: Central
) -> None:
    asked = (await forewoman.get(CONFIRM)).text
    fields = {"form_token": "not ours", "month": MONTH, "shown": shown(asked)}
    assert (await forewoman.client.post(f"{PAGE}/issue", data=fields)).status_code == 403
    assert (await central.ledger.issuing.runs(site_id=SITE)).items == ()
