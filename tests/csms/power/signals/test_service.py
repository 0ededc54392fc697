"""Caps from outside as others ask for them."""

from datetime import timedelta
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.cluster.history import History
from csms.errors import InvalidInput, NotFound
from csms.power.caps import CapSignal
from csms.power.signals.service import CapSignals
from csms.sites.model import System
from csms.sites.service import SitesService
from csms.store.database import Database

HOUR = timedelta(hours=1)


class World:
    def __init__(self, database: Database, clock: ManualClock) -> None:
        self.clock, self.changed = clock, list[str]()
        self.sites = SitesService(database, clock)
        self.history = History(database)
        self.caps = CapSignals(database, clock, self.sites, self._changed)

    async def _changed(self, site_id: str) -> None:
        self.changed.append(site_id)

    async def ask(self, **more: Any) -> int:
        facts = {"cap_w": 4_200, "until": self.clock.now() + HOUR, **more}
        return (await self.caps.ask("main", **facts)).id


@pytest.fixture
async def world(database: Database, clock: ManualClock) -> World:
    found = World(database, clock)
    await found.sites.create_site(
        id="yard", name="Yard", time_zone="UTC", currency="EUR", system=System.TN_400
    )
    await found.sites.create_circuit("yard", id="main", name="Supply", fed_from=None, limit_a=(32, 32, 32))
    return found


async def test_a_cap_counts_from_now_and_ends_by_itself(world: World) -> None:
    now = world.clock.now()
    await world.ask(reason="grid operator", by="energy manager")
    assert world.changed == ["yard"]
    assert await world.caps.of_site("yard") == {
        "main": (CapSignal(4_200.0, now + HOUR, now, "grid operator"),)
    }
    world.clock.advance(3600)
    assert await world.caps.of_site("yard") == {}
    (kept,) = (await world.caps.listed("main")).items
    assert (kept.cap_w, kept.reason, kept.created_by) == (4_200, "grid operator", "energy manager")


async def test_it_may_be_for_later_and_be_taken_back(world: World) -> None:
    now = world.clock.now()
    id = await world.ask(since=now + HOUR, until=now + 2 * HOUR)
    assert (await world.caps.of_site("yard"))["main"][0].since == now + HOUR
    withdrawn = await world.caps.withdraw("main", id)
    assert withdrawn.withdrawn_at == now
    assert await world.caps.of_site("yard") == {}
    world.clock.advance(60)
    assert await world.caps.withdraw("main", id) == withdrawn  # once is enough
    assert world.changed == ["yard", "yard"]
    facts = (await world.history.latest(topic="cap.")).items
    assert [fact.topic for fact in facts] == ["cap.withdrawn", "cap.asked"]
    assert facts[0].body["circuit"] == "main"


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"cap_w": -1}, "cap_w: must be from 0"),
        ({"until": -HOUR}, "until: must be after the beginning"),
        ({"since": -2 * HOUR, "until": -HOUR}, "until: is over already"),
        ({"since": 2 * HOUR, "until": HOUR}, "until: must be after the beginning"),
        ({"until": 400 * 24 * HOUR}, "until: is more than a year"),
    ],
)
async def test_what_makes_no_sense_is_refused_by_its_field(
    world: World, wrong: dict[str, Any], says: str
) -> None:
    now = world.clock.now()
    given = {key: now + value if isinstance(value, timedelta) else value for key, value in wrong.items()}
    with pytest.raises(InvalidInput, match=says):
        await world.ask(**given)
    assert world.changed == []


async def test_a_circuit_that_is_not_there_is_told(world: World) -> None:
    with pytest.raises(NotFound):
        await world.caps.ask("attic", cap_w=1, until=world.clock.now() + HOUR)
    with pytest.raises(NotFound):
        await world.caps.listed("attic")
    with pytest.raises(NotFound):
        await world.caps.withdraw("main", 99)
