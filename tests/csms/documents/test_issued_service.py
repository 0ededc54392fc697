"""What went out with a month, over the real ledger: a month, and a credit note made by hand afterwards."""

from datetime import date, timedelta

import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.documents.issued_service import IssuedStatements
from csms.errors import NotFound
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms
from csms.settings import Settings
from csms.sites.model import System

SITE, NOVEMBER, DECEMBER = "weavers-yard", "2026-11", "2026-12"


async def test_documents_of_a_month_are_those_of_its_run_and_later_credit_notes(
    database_url: str, clock: ManualClock
) -> None:
    central = Central(Settings(database_url=database_url), clock)
    await central.database.open()
    try:
        await central.sites.create_site(
            id=SITE, name="Yard", time_zone="Europe/Oslo", currency="NOK", system=System.TN_400
        )
        for flat in ("flat-1", "flat-2"):
            await central.members.create(id=flat, site_id=SITE, name=flat)
        terms = Terms(issuer=Issuer(name="Yard"), first_month=NOVEMBER, language="sv")
        await central.ledger.billing.set_terms(SITE, terms)
        await central.ledger.pools.create(
            site_id=SITE,
            name="Upkeep",
            amount_minor=1000,
            currency="NOK",
            period_start=date(2026, 11, 1),
            period_end=date(2026, 12, 1),
            key=Key.EQUAL,
        )
        clock.advance(timedelta(days=31).total_seconds())
        issued = IssuedStatements(central.ledger.issuing, central.ledger.billing)
        assert await issued.ids_of_month(SITE, NOVEMBER) == ()
        await central.ledger.issuing.issue(SITE, NOVEMBER)
        ids = await issued.ids_of_month(SITE, NOVEMBER)
        statements = [await issued.get(one) for one in ids]
        assert [one.number for one in statements] == ["S-00001", "S-00002"]
        assert {one.gross_minor for one in statements} == {500}
        note = await central.ledger.issuing.credit(ids[0])
        assert await issued.ids_of_month(SITE, NOVEMBER) == (note.id, *ids)
        assert await issued.ids_of_month(SITE, DECEMBER) == ()
        assert await issued.language_of(SITE) == "sv"
        with pytest.raises(NotFound):
            await issued.get("st_none")
        with pytest.raises(NotFound):
            await issued.language_of("nowhere")
        done = await central.documents.make(SITE, NOVEMBER)
        assert (done.made, done.failures) == (3, ())
    finally:
        await central.tasks.close()
        await central.database.close()
