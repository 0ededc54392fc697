"""No change makes an active site unsafe; Conflict names where."""

import asyncio
from collections.abc import AsyncIterator

import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.errors import Conflict
from csms.settings import Settings
from csms.sites.model import System


@pytest.fixture
async def central(database_url: str, clock: ManualClock) -> AsyncIterator[Central]:
    """An active site: 63 A, of which the building takes 30 A and two silent stations 2 x 16 A."""
    made = Central(Settings(database_url=database_url), clock)
    await made.database.open()
    await made.sites.create_site(
        id="yard", name="Yard", time_zone="Europe/Oslo", currency="EUR", system=System.TN_400
    )
    await made.sites.create_circuit(
        "yard", id="main", name="Supply", fed_from=None, limit_a=(63, 63, 63), worst_base_a=(30, 30, 30)
    )
    for number in (1, 2):
        await made.stations.create(id=f"B{number}", site_id="yard", circuit_id="main", fallback_a=16)
    await made.sites.set_active("yard", True)
    yield made
    await made.power.stop()
    await made.tasks.close()
    await made.database.close()


async def refused(work: object) -> str:
    with pytest.raises(Conflict) as error:
        await work  # type: ignore[misc]
    return error.value.problem


async def test_every_way_to_make_it_unsafe_is_closed(central: Central) -> None:
    sites, stations = central.sites, central.stations
    said = await refused(sites.update_circuit("main", limit_a=(63, 61, 63)))
    assert "main L2: fallbacks and base load make 62 A of 61 A" in said
    assert "L1" not in said
    assert "64 A of 63 A" in await refused(sites.update_circuit("main", worst_base_a=(30, 30, 32)))
    assert "W" in await refused(sites.update_circuit("main", cap_w=40_000))
    assert "64 A" in await refused(stations.update("B2", fallback_a=18))
    assert "78 A" in await refused(stations.update("B2", keeps_profiles=False))
    assert "78 A" in await refused(stations.update("B2", evses=2))
    more = stations.create(id="B3", fallback_a=6, site_id="yard", circuit_id="main")
    assert "68 A" in await refused(more)
    await stations.create(id="B4", fallback_a=6)
    assert "68 A" in await refused(stations.update("B4", site_id="yard", circuit_id="main"))
    assert "75 A" in await refused(
        sites.create_circuit(
            "yard", name="Bakery", fed_from="main", limit_a=(20, 20, 20), worst_base_a=(13, 13, 13)
        )
    )
    # Nothing of all that was written.
    assert (await sites.get_circuit("main")).limit_a == (63, 63, 63)
    assert len(await sites.circuits_of("yard")) == 1
    assert [(s.id, s.fallback_a, s.keeps_profiles) for s in await stations.stations_of("yard")] == [
        ("B1", 16.0, True),
        ("B2", 16.0, True),
    ]
    assert len(await stations.evses("B2")) == 1


async def test_what_keeps_it_safe_is_done(central: Central) -> None:
    await central.sites.update_circuit("main", limit_a=(62, 63, 63), name="Mill supply")
    await central.stations.update("B2", fallback_a=6)
    await central.stations.create(id="B3", site_id="yard", circuit_id="main", fallback_a=10)
    assert (await central.sites.get_circuit("main")).limit_a == (62, 63, 63)


async def test_an_inactive_site_may_be_anything_but_is_not_activated(central: Central) -> None:
    await central.sites.set_active("yard", False)
    await central.sites.update_circuit("main", limit_a=(40, 63, 63))
    said = await refused(central.sites.set_active("yard", True))
    assert "main L1: fallbacks and base load make 62 A of 40 A" in said
    assert not (await central.sites.get_site("yard")).active


async def test_a_site_without_a_supply_is_not_activated(central: Central) -> None:
    await central.sites.create_site(
        id="barn", name="Barn", time_zone="Europe/Oslo", currency="EUR", system=System.TN_400
    )
    assert "at least one circuit" in await refused(central.sites.set_active("barn", True))


async def test_what_is_over_already_may_get_better_but_not_worse(central: Central) -> None:
    """A station that tells of a second EVSE by itself cannot be refused: the site is over then."""
    from csms.stations import repository
    from csms.stations.record import Evse

    async with central.database.write() as connection:
        second = Evse(station_id="B1", number=2, confirmed=False)
        await repository.put_evse(connection, central.database.dialect, second)
    assert await central.power.faults("yard") == tuple(
        f"main {line}: fallbacks and base load make 78 A of 63 A" for line in ("L1", "L2", "L3")
    )
    await central.stations.update("B2", name="Bay 2")
    await central.stations.update("B2", fallback_a=6)
    assert "84 A" not in await refused(central.stations.update("B2", fallback_a=8))


async def test_two_changes_at_once_cannot_pass_together(central: Central) -> None:
    """Each alone fits (62 A + 1 A), both do not."""
    await central.stations.update("B2", fallback_a=15)
    done = await asyncio.gather(
        central.stations.update("B1", fallback_a=17),
        central.stations.update("B2", fallback_a=17),
        central.sites.update_circuit("main", limit_a=(62, 62, 62)),
        return_exceptions=True,
    )
    assert sum(isinstance(each, Conflict) for each in done) >= 1
    assert await central.power.faults("yard") == ()
