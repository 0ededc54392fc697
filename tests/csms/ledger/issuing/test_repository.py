"""Rows of runs, documents and entries."""

from datetime import UTC, datetime

import pytest

from csms.errors import NotFound
from csms.ledger.entries import Account, Entry, EntryKind
from csms.ledger.issuing import repository
from csms.ledger.issuing.issued import Run
from tests.csms.ledger.small_yard import SITE, SmallYard

NOW = datetime(2026, 2, 3, tzinfo=UTC)
RUN = Run(
    id="run_1",
    site_id=SITE,
    period="2026-01",
    issued_at=NOW,
    currency="NOK",
    rule_version="1",
    inputs_hash="ab",
    seen={"2026-01": "cd"},
    proof=[],
)


async def test_numbers_count_up_and_runs_keep_their_inputs(small: SmallYard) -> None:
    database = small.central.database
    async with database.write() as connection:
        await repository.lock_books(connection, SITE)
        assert await repository.last_number(connection, SITE, "Y") == 0
        await repository.set_last_number(connection, database.dialect, SITE, "Y", 3)
        await repository.set_last_number(connection, database.dialect, SITE, "Y", 4)
        assert await repository.last_number(connection, SITE, "Y") == 4
        assert await repository.last_number(connection, SITE, "YC") == 0
        await repository.add_run(connection, RUN, b"inputs")
    async with database.read() as connection:
        assert await repository.get_run(connection, "run_1") == RUN
        assert await repository.runs_of(connection, SITE) == (RUN,)
        assert await repository.inputs_of(connection, "run_1") == b"inputs"
        with pytest.raises(NotFound):
            await repository.get_run(connection, "run_2")
        with pytest.raises(NotFound):
            await repository.get_document(connection, "st_none")


async def test_entries_add_up_by_what_they_are_about(small: SmallYard) -> None:
    def charge(amount_minor: int, kind: EntryKind = EntryKind.CHARGE) -> Entry:
        return Entry(
            account=Account.MEMBER,
            member_id="a",
            period="2026-01",
            kind=kind,
            line_kind="sessions",
            reference="two",
            vat_percent="25",
            amount_minor=amount_minor,
            statement_id="st_1",
        )

    entries = [charge(100), charge(-30), charge(18, EntryKind.VAT)]
    async with small.central.database.write() as connection:
        assert await repository.last_entry(connection, SITE) == 0
        await repository.add_entries(connection, SITE, "NOK", "run_1", NOW, entries)
        last = await repository.last_entry(connection, SITE)
        (summed,) = await repository.booked(connection, SITE, "2026-01")
        assert summed.amount_minor == 70
        assert await repository.entries_of(connection, "st_1") == entries
        assert await repository.balances(connection, SITE) == {"a": 88}
        assert await repository.balances(connection, SITE, last - 1) == {"a": 70}
        assert await repository.balances(connection, SITE, last - 3) == {}
