"""Invoices and registers of the supply, as the rest of the program holds them."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from csms.clock import Clock
from csms.errors import InvalidInput, NotFound
from csms.ids import new_id
from csms.ledger.billing.service import BillingService
from csms.ledger.pool import Key, Pool, check_pool
from csms.ledger.pools import repository
from csms.ledger.supply import SupplyRegister, check_register
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class PoolsService:
    """Keeps pools and supply registers. Raises NotFound, Conflict, InvalidInput.

    A pool may be changed, and one of a month that has been billed may still come: the next statements
    hold the difference.
    """

    def __init__(self, database: Database, clock: Clock, billing: BillingService) -> None:
        self._database = database
        self._clock = clock
        self._billing = billing

    async def create(
        self,
        *,
        site_id: str,
        name: str,
        amount_minor: int,
        currency: str,
        period_start: date,
        period_end: date,
        key: Key,
        vat_minor: int = 0,
        vat_percent: Decimal | None = None,
        supplier: str = "",
        invoice: str = "",
        id: str | None = None,
    ) -> Pool:
        """A supplier's invoice, to be shared by `key` over the months of its period."""
        new = Pool(
            id=new_id("pool") if id is None else id,
            site_id=site_id,
            name=name,
            supplier=supplier,
            invoice=invoice,
            amount_minor=amount_minor,
            vat_minor=vat_minor,
            vat_percent=vat_percent,
            currency=currency,
            period_start=period_start,
            period_end=period_end,
            key=key,
            created_at=self._clock.now(),
        )
        async with self._database.write() as connection:
            new = await self._checked(connection, new)
            await repository.add_pool(connection, new)
            await put(connection, self._fact("created", new))
        return new

    async def change(self, pool_id: str, changed: Pool) -> Pool:
        """The pool as the supplier's corrected invoice says."""
        async with self._database.write() as connection:
            old = await repository.get_pool(connection, pool_id)
            new = replace(changed, id=old.id, site_id=old.site_id, created_at=old.created_at)
            new = await self._checked(connection, new)
            await repository.change_pool(connection, new)
            await put(connection, self._fact("changed", new))
        return new

    async def delete(self, pool_id: str) -> None:
        """Remove an invoice that was entered by mistake."""
        async with self._database.write() as connection:
            old = await repository.get_pool(connection, pool_id)
            await repository.remove_pool(connection, pool_id)
            await put(connection, self._fact("deleted", old))

    async def get(self, pool_id: str) -> Pool:
        async with self._database.read() as connection:
            return await repository.get_pool(connection, pool_id)

    async def list(
        self, *, site_id: str | None = None, after: str | None = None, limit: int = 50
    ) -> Page[Pool]:
        async with self._database.read() as connection:
            return await repository.page_of_pools(connection, site_id, after=after, limit=limit)

    async def add_register(
        self, *, site_id: str, serial: str, at: datetime, register_wh: int, id: str | None = None
    ) -> SupplyRegister:
        """A reading of the main meter; a register that runs backwards is refused (`register_wh`)."""
        new = SupplyRegister(
            id=new_id("reg") if id is None else id,
            site_id=site_id,
            serial=serial.strip(),
            at=at if at.tzinfo is None else at.astimezone(UTC),
            register_wh=register_wh,
            created_at=self._clock.now(),
        )
        async with self._database.write() as connection:
            others = await repository.registers_of(connection, site_id)
            new = check_register(new, others)
            try:
                await self._billing.terms_within(connection, site_id)
            except NotFound:
                raise InvalidInput("site_id", f"there is no site {site_id!r}") from None
            await repository.add_register(connection, new)
        return new

    async def delete_register(self, register_id: str) -> None:
        async with self._database.write() as connection:
            await repository.get_register(connection, register_id)
            await repository.remove_register(connection, register_id)

    async def get_register(self, register_id: str) -> SupplyRegister:
        async with self._database.read() as connection:
            return await repository.get_register(connection, register_id)

    async def list_registers(
        self, *, site_id: str | None = None, after: str | None = None, limit: int = 50
    ) -> Page[SupplyRegister]:
        async with self._database.read() as connection:
            return await repository.page_of_registers(connection, site_id, after=after, limit=limit)

    async def pools_of(
        self, connection: Connection, site_id: str, first: date, end: date
    ) -> tuple[Pool, ...]:
        """Invoices with a day from `first` to before `end`."""
        return await repository.pools_of(connection, site_id, first, end)

    async def registers_of(self, connection: Connection, site_id: str) -> tuple[SupplyRegister, ...]:
        """All readings of the site's main meter, in order of time."""
        return await repository.registers_of(connection, site_id)

    async def _checked(self, connection: Connection, pool: Pool) -> Pool:
        try:
            terms, currency = await self._billing.terms_within(connection, pool.site_id)
        except NotFound:
            raise InvalidInput("site_id", f"there is no site {pool.site_id!r}") from None
        return check_pool(pool, terms, currency)

    def _fact(self, change: str, pool: Pool) -> Fact:
        body = {
            "change": change,
            "pool": pool.name,
            "supplier": pool.supplier,
            "from": pool.period_start.isoformat(),
            "to": pool.period_end.isoformat(),
        }
        now = self._clock.now()
        return Fact(topic="pool.changed", at=now, site_id=pool.site_id, subject=pool.id, body=body)
