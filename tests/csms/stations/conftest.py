"""Weavers' Yard with its supply, and the services of stations on it."""

from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from sqlalchemy import select

from csms.clock import ManualClock
from csms.sites.model import System
from csms.sites.service import SitesService
from csms.stations.journal.service import CommandJournal
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.store.database import Database
from csms.store.tables.system import outbox

Facts = Callable[[str], Awaitable[list[dict[str, Any]]]]
"""Bodies of the facts whose topic begins so, in order; topic and subject are in them."""


@pytest.fixture
async def sites(database: Database, clock: ManualClock) -> SitesService:
    sites = SitesService(database, clock)
    await sites.create_site(
        id="weavers-yard",
        name="Weavers' Yard",
        time_zone="Europe/Brussels",
        currency="EUR",
        system=System.TN_400,
    )
    await sites.create_circuit(
        "weavers-yard", id="supply", name="Supply", fed_from=None, limit_a=(63, 63, 63)
    )
    return sites


@pytest.fixture
def stations(database: Database, clock: ManualClock, sites: SitesService) -> StationsService:
    return StationsService(database, clock, sites)


@pytest.fixture
def journal(database: Database, clock: ManualClock) -> CommandJournal:
    return CommandJournal(database, clock)


@pytest.fixture
def sockets(database: Database, clock: ManualClock, journal: CommandJournal) -> SocketsService:
    return SocketsService(database, clock, journal)


@pytest.fixture
async def bay(stations: StationsService) -> str:
    """The id of a station with one EVSE in the courtyard."""
    return (await stations.create(id="BAY-01", name="Bay 1", site_id="weavers-yard", circuit_id="supply")).id


@pytest.fixture
def facts(database: Database) -> Facts:
    async def told(prefix: str) -> list[dict[str, Any]]:
        query = select(outbox).where(outbox.c.topic.startswith(prefix)).order_by(outbox.c.id)
        async with database.read() as connection:
            rows = (await connection.execute(query)).all()
        return [
            {"topic": row.topic, "subject": row.subject, "site_id": row.site_id, **row.body} for row in rows
        ]

    return told
