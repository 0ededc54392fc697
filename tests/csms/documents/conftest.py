"""A site whose January is issued: rows of statements as the ledger writes them, and who reads them."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from sqlalchemy import insert

from csms.access.members.service import MembersService
from csms.clock import ManualClock
from csms.errors import NotFound
from csms.ledger import canonical
from csms.ledger.statement import Statement
from csms.sites.model import System
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.tables.ledger import statement as rows
from tests.csms.documents import samples

SITE, PERIOD = "weavers-yard", "2026-01"


class IssuedStatements:
    """A small ledger: statements by their ids, in the order of their numbers."""

    def __init__(self) -> None:
        self.kept: dict[str, Statement] = {}

    async def ids_of_month(self, site_id: str, period: str) -> tuple[str, ...]:
        found = [one for one in self.kept.values() if one.site_id == site_id]
        return tuple(
            one.id
            for one in sorted(found, key=lambda one: one.number)
            if f"{one.period_start:%Y-%m}" == period
        )

    async def get(self, statement_id: str) -> Statement:
        try:
            return self.kept[statement_id]
        except KeyError:
            raise NotFound("statement", statement_id) from None

    async def language_of(self, site_id: str) -> str:
        return "en"


@pytest.fixture
def sites(database: Database, clock: ManualClock) -> SitesService:
    return SitesService(database, clock)


@pytest.fixture
async def issued(database: Database, clock: ManualClock, sites: SitesService) -> IssuedStatements:
    """Five statements of five flats; the third is in a language that no catalogue has."""
    await sites.create_site(
        id=SITE, name="Weavers' Yard", time_zone="Europe/Oslo", currency="EUR", system=System.TN_400
    )
    members = MembersService(database, clock)
    ledger = IssuedStatements()
    for flat in range(1, 6):
        member = await members.create(site_id=SITE, id=f"flat-{flat}", name=f"Flat {flat}")
        made = samples.statement({1: "en", 2: "de", 3: "fi"}.get(flat, "nb"), sessions=3)
        statement = replace(
            made,
            id=f"stm_{flat}",
            sequence=flat,
            number=f"WY-{flat:05}",
            recipient=replace(made.recipient, member_id=member.id, name=member.name),
        )
        ledger.kept[statement.id] = statement
        text = canonical.write(statement)
        async with database.write() as connection:
            await connection.execute(
                insert(rows).values(
                    id=statement.id,
                    site_id=SITE,
                    member_id=member.id,
                    kind=statement.kind.value,
                    series=statement.series,
                    sequence=flat,
                    number=statement.number,
                    period=PERIOD,
                    issued_at=datetime(2026, 2, 3, 9, tzinfo=UTC),
                    currency="EUR",
                    net_minor=statement.net_minor,
                    vat_minor=statement.vat_minor,
                    gross_minor=statement.gross_minor,
                    body=text,
                    hash=canonical.digest(text),
                    upto_entry=0,
                )
            )
    return ledger
