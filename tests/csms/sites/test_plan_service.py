"""A planned site and its circuits: created, updated, left alone."""

from dataclasses import replace

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput
from csms.sites.model import Circuit, Site, System
from csms.sites.plan_service import SitePlans
from csms.sites.service import SitesService
from csms.store.database import Database
from tests.conftest import NOON
from tests.csms.yard import facts

SITE = Site(
    id="yard",
    name="Yard",
    time_zone="Europe/Oslo",
    currency="EUR",
    system=System.TN_400,
    active=True,
    created_at=NOON.replace(year=1970),
)
MAIN = Circuit(id="main", site_id="yard", name="Main", fed_from=None, limit_a=(63, 63, 63))
BOARD = replace(MAIN, id="board", name="Board", fed_from="main", limit_a=(40, 40, 40))


async def put(database: Database, clock: ManualClock, site: Site, *circuits: Circuit) -> tuple[str, ...]:
    plans = SitePlans(clock)
    async with database.write() as connection:
        touched = await plans.put_site(connection, site)
        return touched + await plans.put_circuits(connection, site, circuits)


async def test_a_plan_is_put_once(database: Database, clock: ManualClock) -> None:
    assert await put(database, clock, SITE, BOARD, MAIN) == ("yard", "main", "board")
    sites = SitesService(database, clock)
    made = await sites.get_site("yard")
    assert (made.active, made.created_at) == (False, NOON)
    assert await sites.circuits_of("yard") == (BOARD, MAIN)
    assert await put(database, clock, SITE, MAIN, BOARD) == ()
    assert [fact.topic for fact in await facts(database)] == [
        "site.created",
        "circuit.created",
        "circuit.created",
    ]


async def test_what_differs_is_changed_and_what_is_not_named_stays(
    database: Database, clock: ManualClock
) -> None:
    await put(database, clock, SITE, MAIN, BOARD)
    named = replace(SITE, name="The Yard")
    assert await put(database, clock, named, replace(MAIN, limit_a=(50, 50, 50))) == ("yard", "main")
    sites = SitesService(database, clock)
    assert (await sites.get_site("yard")).name == "The Yard"
    assert await sites.circuits_of("yard") == (BOARD, replace(MAIN, limit_a=(50, 50, 50)))


async def test_what_cannot_be_is_refused(database: Database, clock: ManualClock) -> None:
    await put(database, clock, SITE, MAIN)
    await put(database, clock, replace(SITE, id="barn"))
    with pytest.raises(Conflict, match="another site has a circuit 'main'"):
        await put(database, clock, replace(SITE, id="barn"), MAIN)
    with pytest.raises(InvalidInput, match="supply is 'main'"):
        await put(database, clock, SITE, replace(BOARD, fed_from=None))
    await SitesService(database, clock).set_active("yard", True)
    with pytest.raises(Conflict, match="system of an active site"):
        await put(database, clock, replace(SITE, system=System.IT_230))
