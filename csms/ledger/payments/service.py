"""Payments and open balances, as the rest of the program holds them."""

from datetime import date
from zoneinfo import ZoneInfo

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.ids import new_id
from csms.ledger.billing.service import BillingService
from csms.ledger.payments import repository
from csms.ledger.payments.payment import Issued, Owed, Payment, check_payment, open_items
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class PaymentsService:
    """Keeps payments; they are never changed: one booked by mistake is undone by a negative one.

    Raises NotFound, Conflict, InvalidInput.
    """

    def __init__(
        self, database: Database, clock: Clock, billing: BillingService, sites: SitesService
    ) -> None:
        self._database = database
        self._clock = clock
        self._billing = billing
        self._sites = sites

    async def create(
        self,
        *,
        site_id: str,
        member_id: str,
        paid_on: date,
        amount_minor: int,
        currency: str,
        reference: str,
        note: str = "",
        id: str | None = None,
    ) -> Payment:
        """Book a payment. Conflict when the bank's reference is there already: it was imported twice."""
        new = Payment(
            id=new_id("pay") if id is None else id,
            site_id=site_id,
            member_id=member_id,
            paid_on=paid_on,
            amount_minor=amount_minor,
            currency=currency,
            reference=reference,
            note=note,
            created_at=self._clock.now(),
        )
        async with self._database.write() as connection:
            try:
                _, billed_in = await self._billing.terms_within(connection, site_id)
            except NotFound:
                raise InvalidInput("site_id", f"there is no site {site_id!r}") from None
            new = check_payment(new, billed_in)
            if await repository.site_of_member(connection, member_id) != site_id:
                raise InvalidInput("member_id", f"there is no member {member_id!r} on site {site_id!r}")
            await repository.lock_books(connection, site_id)
            there = await repository.by_reference(connection, site_id, new.reference)
            if there is not None:
                raise Conflict(
                    f"reference {new.reference!r} is booked already, as payment {there.id} of "
                    f"{there.member_id}; nothing was booked again"
                )
            await repository.add(connection, new)
            body = {"member": member_id, "reference": new.reference}
            fact = Fact(topic="payment.booked", at=new.created_at, site_id=site_id, subject=new.id, body=body)
            await put(connection, fact)
        return new

    async def get(self, payment_id: str) -> Payment:
        async with self._database.read() as connection:
            return await repository.get(connection, payment_id)

    async def list(
        self,
        *,
        site_id: str | None = None,
        member_id: str | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Payment]:
        """Payments that fit all that is given, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.page(
                connection, site_id=site_id, member_id=member_id, after=after, limit=limit
            )

    async def owed(self, site_id: str, member_id: str | None = None) -> tuple[Owed, ...]:
        """The accounts of all members with anything booked, or of one, with the age of each open item."""
        site = await self._sites.get_site(site_id)
        zone = ZoneInfo(site.time_zone)
        today = self._clock.now().astimezone(zone).date()
        async with self._database.read() as connection:
            accounts = await repository.owed(connection, site_id, member_id)
            documents = await repository.documents(connection, site_id, member_id)
        found = []
        for member, name, balance in accounts:
            issued = [
                Issued(
                    id=key,
                    number=number,
                    issued_on=at.astimezone(zone).date(),
                    due_on=due,
                    gross_minor=gross,
                )
                for key, number, at, due, gross in documents.get(member, ())
            ]
            found.append(
                Owed(
                    member_id=member,
                    name=name,
                    currency=site.currency,
                    balance_minor=balance,
                    items=open_items(issued, balance, today),
                )
            )
        return tuple(found)
