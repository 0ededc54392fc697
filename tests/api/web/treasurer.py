"""What a treasurer has entered before November 2026 can be closed: two flats share an invoice of 1,000."""

from datetime import date, timedelta
from decimal import Decimal

from csms.app import Central
from csms.clock import ManualClock
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms

SITE, MONTH = "weavers-yard", "2026-11"
PAGE = f"/month/{SITE}"


async def november(central: Central, clock: ManualClock) -> None:
    """The site is there, and Flat 12. It is 3 December.

    Each flat gets 500.00 and 25 % VAT: 625.00, which is 1,250.00 in all.
    """
    await central.members.create(id="flat-2", site_id=SITE, name="Flat 2")
    issuer = Issuer(name="The Yard", tax_id="NO123456789MVA", country="NO", payment_to="NO9386011117947")
    await central.ledger.billing.set_terms(SITE, Terms(issuer=issuer, first_month=MONTH))
    await invoice(central, "Upkeep", 100_000)
    clock.advance(timedelta(days=31).total_seconds())


async def invoice(central: Central, name: str, amount_minor: int) -> None:
    """A supplier's invoice of November, shared equally."""
    await central.ledger.pools.create(
        site_id=SITE,
        name=name,
        amount_minor=amount_minor,
        vat_minor=amount_minor // 4,
        vat_percent=Decimal(25),
        currency="NOK",
        period_start=date(2026, 11, 1),
        period_end=date(2026, 12, 1),
        key=Key.EQUAL,
    )
