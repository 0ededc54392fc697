"""Rows of terms and addresses."""

from csms.ledger.billing import repository
from tests.csms.ledger.small_yard import SITE, START, TERMS, SmallYard


async def test_rows_give_back_what_was_put_in(small: SmallYard) -> None:
    database = small.central.database
    async with database.write() as connection:
        assert await repository.currency_of(connection, SITE) == "NOK"
        assert await repository.currency_of(connection, "moon") is None
        assert await repository.get_terms(connection, "moon") is None
        await repository.put_terms(connection, database.dialect, SITE, TERMS, START)
        assert await repository.get_terms(connection, SITE) == TERMS
        assert await repository.has_member(connection, "a")
        assert not await repository.has_member(connection, "c")
        await repository.put_address(connection, database.dialect, "a", ["x"], "en")
        assert await repository.get_address(connection, "a") == (("x",), "en")
