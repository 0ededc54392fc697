"""Rows of invoices and registers."""

from datetime import date

from csms.ledger.pools import repository
from csms.ledger.supply import SupplyRegister
from tests.csms.ledger.small_yard import SITE, START, SmallYard


async def test_invoices_of_a_time_and_registers_in_order(small: SmallYard) -> None:
    await small.pool("b", 1, month=2)
    await small.pool("a", 1, month=1)
    async with small.central.database.write() as connection:
        found = await repository.pools_of(connection, SITE, date(2026, 1, 1), date(2026, 3, 1))
        assert [pool.id for pool in found] == ["a", "b"]
        january = await repository.pools_of(connection, SITE, date(2026, 1, 1), date(2026, 2, 1))
        assert [pool.id for pool in january] == ["a"]
        register = SupplyRegister(
            id="r", site_id=SITE, serial="EV", at=START, register_wh=7, created_at=START
        )
        await repository.add_register(connection, register)
        assert await repository.registers_of(connection, SITE) == (register,)
        assert await repository.registers_of(connection, "moon") == ()
