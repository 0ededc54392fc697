"""Sites and circuits by their service, on both databases."""

import asyncio
from typing import Any

import pytest
from sqlalchemy import insert, select

from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.sites.model import Site, System
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.tables.system import outbox
from csms.store.tables.tariffs import tariff
from tests.conftest import NOON


@pytest.fixture
def sites(database: Database, clock: ManualClock) -> SitesService:
    return SitesService(database, clock)


async def yard(sites: SitesService) -> Site:
    site = await sites.create_site(
        id="weavers-yard",
        name="Weavers' Yard",
        time_zone="Europe/Brussels",
        currency="EUR",
        system=System.TN_400,
    )
    await sites.create_circuit(
        site.id, id="supply", name="Supply", fed_from=None, limit_a=(63, 63, 63), device_a=63
    )
    await sites.create_circuit(
        site.id, id="courtyard", name="Courtyard board", fed_from="supply", limit_a=(40, 40, 40)
    )
    await sites.create_circuit(
        site.id, id="bakery", name="Bakery", fed_from="courtyard", limit_a=(32, 32, 32)
    )
    return site


async def facts(database: Database) -> list[tuple[str, str, dict[str, Any]]]:
    query = select(outbox.c.topic, outbox.c.subject, outbox.c.body).order_by(outbox.c.id)
    async with database.read() as connection:
        return [(row.topic, row.subject, row.body) for row in await connection.execute(query)]


async def test_a_site_is_created_inactive_and_told_of(sites: SitesService, database: Database) -> None:
    site = await yard(sites)
    assert await sites.get_site("weavers-yard") == site
    assert site.created_at == NOON
    assert not site.active
    assert (await facts(database))[:2] == [
        ("site.created", "weavers-yard", {"site": "Weavers' Yard", "system": "TN-400", "active": False}),
        (
            "circuit.created",
            "supply",
            {"site": "Weavers' Yard", "circuit": "Supply", "limit_a": [63.0, 63.0, 63.0]},
        ),
    ]


async def test_an_id_is_made_up_when_none_is_given(sites: SitesService) -> None:
    one = await sites.create_site(name="One", time_zone="UTC", currency="EUR", system=System.TN_400)
    two = await sites.create_site(name="Two", time_zone="UTC", currency="EUR", system=System.TN_400)
    assert one.id != two.id
    supply = await sites.create_circuit(one.id, name="Supply", fed_from=None, limit_a=(16, 0, 0))
    assert await sites.get_circuit(supply.id) == supply


async def test_an_id_that_is_taken_is_a_conflict(sites: SitesService) -> None:
    await yard(sites)
    with pytest.raises(Conflict, match="weavers-yard"):
        await yard(sites)
    with pytest.raises(Conflict, match="bakery"):
        await sites.create_circuit(
            "weavers-yard", id="bakery", name="Again", fed_from="supply", limit_a=(1, 1, 1)
        )


async def test_sites_come_in_pages(sites: SitesService) -> None:
    for number in range(5):
        await sites.create_site(
            id=f"site-{number}", name="A site", time_zone="UTC", currency="EUR", system=System.TN_400
        )
    first = await sites.list_sites(limit=3)
    assert [site.id for site in first.items] == ["site-0", "site-1", "site-2"]
    rest = await sites.list_sites(after=first.next, limit=3)
    assert [site.id for site in rest.items] == ["site-3", "site-4"]
    assert rest.next is None


async def test_a_site_changes_in_what_is_given_only(sites: SitesService, database: Database) -> None:
    site = await yard(sites)
    changed = await sites.update_site(site.id, time_zone="Europe/Oslo")
    assert (changed.name, changed.time_zone) == ("Weavers' Yard", "Europe/Oslo")
    assert await sites.get_site(site.id) == changed
    told = len(await facts(database))
    assert await sites.update_site(site.id, time_zone="Europe/Oslo") == changed
    assert len(await facts(database)) == told
    with pytest.raises(InvalidInput, match="time_zone"):
        await sites.update_site(site.id, time_zone="Oslo")
    with pytest.raises(NotFound, match="site mill"):
        await sites.update_site("mill", name="Mill")


async def test_the_system_of_an_active_site_stays(sites: SitesService, database: Database) -> None:
    site = await yard(sites)
    assert (await sites.set_active(site.id, True)).active
    assert (await sites.set_active(site.id, True)).active
    with pytest.raises(Conflict, match="deactivate"):
        await sites.update_site(site.id, system=System.IT_230)
    assert not (await sites.set_active(site.id, False)).active
    assert (await sites.update_site(site.id, system=System.IT_230)).system is System.IT_230
    topics = [topic for topic, _, _ in await facts(database)]
    assert topics[-3:] == ["site.activated", "site.deactivated", "site.changed"]


async def test_the_currency_stays_that_of_the_tariffs(sites: SitesService, database: Database) -> None:
    site = await yard(sites)
    assert (await sites.update_site(site.id, currency="SEK")).currency == "SEK"
    async with database.write() as connection:
        await connection.execute(
            insert(tariff).values(
                id="t", site_id=site.id, name="Yard", document={"json": "{}"}, created_at=site.created_at
            )
        )
    with pytest.raises(InvalidInput, match="currency: stays SEK: the site has 1 tariffs in it"):
        await sites.update_site(site.id, currency="EUR")
    assert (await sites.get_site(site.id)).currency == "SEK"


async def test_circuits_are_listed_and_walked(sites: SitesService) -> None:
    await yard(sites)
    page = await sites.list_circuits("weavers-yard", limit=2)
    assert [circuit.id for circuit in page.items] == ["bakery", "courtyard"]
    rest = await sites.list_circuits("weavers-yard", after=page.next, limit=2)
    assert [circuit.id for circuit in rest.items] == ["supply"]
    assert [circuit.id for circuit in await sites.circuits_of("weavers-yard")] == [
        "bakery",
        "courtyard",
        "supply",
    ]
    path = await sites.path_to_root("bakery")
    assert [circuit.id for circuit in path] == ["bakery", "courtyard", "supply"]
    for ask in (sites.list_circuits("mill"), sites.circuits_of("mill"), sites.path_to_root("cellar")):
        with pytest.raises(NotFound):
            await ask


async def test_a_circuit_changes(sites: SitesService, database: Database) -> None:
    await yard(sites)
    changed = await sites.update_circuit("bakery", fed_from="supply", limit_a=(25, 25, 25), cap_w=11_000)
    assert await sites.get_circuit("bakery") == changed
    assert (changed.fed_from, changed.limit_a, changed.cap_w) == ("supply", (25, 25, 25), 11_000)
    assert (await sites.update_circuit("bakery", cap_w=None)).cap_w is None
    assert [(t, s) for t, s, _ in await facts(database)][-2:] == [("circuit.changed", "bakery")] * 2


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"limit_a": (63.0, -1.0, 63.0)}, "limit_a.L2"),
        ({"fed_from": "cellar"}, "fed_from"),
        ({"fed_from": "bakery"}, "fed_from"),
        ({"fed_from": "mill-supply"}, "fed_from"),
        ({"fed_from": None}, "fed_from"),
    ],
)
async def test_an_unsound_circuit_is_refused_and_nothing_kept(
    sites: SitesService, changes: Any, field: str
) -> None:
    await yard(sites)
    await sites.create_site(id="mill", name="Mill", time_zone="UTC", currency="EUR", system=System.TN_400)
    await sites.create_circuit("mill", id="mill-supply", name="Supply", fed_from=None, limit_a=(1, 1, 1))
    before = await sites.get_circuit("courtyard")
    with pytest.raises(InvalidInput) as caught:
        await sites.update_circuit("courtyard", **changes)
    assert caught.value.field == field
    assert await sites.get_circuit("courtyard") == before


async def test_an_unsound_new_circuit_is_not_kept(sites: SitesService) -> None:
    await yard(sites)
    for fed_from, limit_a, field in [
        ("supply", (16.0, 16.0, -16.0), "limit_a.L3"),
        ("cellar", (16.0, 16.0, 16.0), "fed_from"),
        (None, (16.0, 16.0, 16.0), "fed_from"),
    ]:
        with pytest.raises(InvalidInput) as caught:
            await sites.create_circuit(
                "weavers-yard", id="new", name="New", fed_from=fed_from, limit_a=limit_a
            )
        assert caught.value.field == field
    with pytest.raises(NotFound):
        await sites.get_circuit("new")


async def test_two_moves_at_once_make_no_loop(sites: SitesService) -> None:
    await yard(sites)
    await sites.update_circuit("bakery", fed_from="supply")
    moved = await asyncio.gather(
        sites.update_circuit("bakery", fed_from="courtyard"),
        sites.update_circuit("courtyard", fed_from="bakery"),
        return_exceptions=True,
    )
    assert sorted(type(each).__name__ for each in moved) == ["Circuit", "InvalidInput"]
    assert [c.id for c in await sites.path_to_root("bakery")][-1] == "supply"


async def test_only_a_bare_circuit_can_be_deleted(sites: SitesService, database: Database) -> None:
    await yard(sites)
    with pytest.raises(Conflict, match="'Courtyard board' still has 1 circuits"):
        await sites.delete_circuit("courtyard")
    await sites.delete_circuit("bakery")
    await sites.delete_circuit("courtyard")
    with pytest.raises(NotFound):
        await sites.delete_circuit("courtyard")
    assert [circuit.id for circuit in await sites.circuits_of("weavers-yard")] == ["supply"]
    assert (await facts(database))[-1][:2] == ("circuit.deleted", "courtyard")


async def test_where_a_station_may_be_put(sites: SitesService) -> None:
    await yard(sites)
    await sites.check_place("weavers-yard", "bakery")
    await sites.check_place("weavers-yard", None)
    await sites.check_place(None, None)
    for site_id, circuit_id, field in [
        ("mill", None, "site_id"),
        ("weavers-yard", "cellar", "circuit_id"),
        (None, "bakery", "circuit_id"),
    ]:
        with pytest.raises(InvalidInput) as caught:
            await sites.check_place(site_id, circuit_id)
        assert caught.value.field == field
