"""What sessions are told of our pauses, with a small real fake of them."""

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.power.holding_service import Holding
from csms.power.installation import Evse
from csms.power.steering.picture import SiteShown, show
from csms.tasks import Tasks

Make = Callable[..., Any]
A, B = Evse("bay-0", 1), Evse("bay-1", 1)


class Sessions:
    """Hears, slowly when `gate` is shut; `missing`: EVSEs where no session runs."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, bool]] = []
        self.missing: set[str] = set()
        self.broken = False
        self.gate = asyncio.Event()
        self.gate.set()

    async def _hear(self, station_id: str, held: bool) -> bool:
        await self.gate.wait()
        if self.broken:
            raise OSError("disk full")
        if station_id in self.missing:
            return False
        self.heard.append((station_id, held))
        return True

    async def paused_by_us(self, station_id: str, evse: int, at: datetime) -> bool:
        return await self._hear(station_id, True)

    async def resumed(self, station_id: str, evse: int, at: datetime) -> bool:
        return await self._hear(station_id, False)


class World:
    def __init__(self, site: Any) -> None:
        self.site = site
        self.sessions = Sessions()
        self.tasks = Tasks()
        self.holding = self.make()

    def make(self) -> Holding:
        return Holding(self.sessions, ManualClock(datetime(2026, 1, 5, tzinfo=UTC)), self.tasks)

    def picture(self) -> SiteShown:
        return show(self.site.state, self.site.now_s)

    async def look(self) -> list[tuple[str, bool]]:
        self.holding.looked("yard", self.picture())
        return await self.settle()

    async def settle(self) -> list[tuple[str, bool]]:
        for _ in range(10):
            await asyncio.sleep(0)
        heard, self.sessions.heard = self.sessions.heard, []
        return heard


@pytest.fixture
def world(yard: Make) -> World:
    """One car charges, the other waits."""
    site = yard(bays=2, limit_a=10.0).connect()
    site.settle(2)
    site.plug(0).settle(2)
    site.plug(1).settle(5)
    return World(site)


async def test_each_thing_is_told_once(world: World) -> None:
    assert await world.look() == [("bay-0", False), ("bay-1", True)]
    assert world.holding.held("yard") == {B}
    assert await world.look() == []
    world.site.settle(930)
    assert sorted(await world.look()) == [("bay-0", True), ("bay-1", False)]


async def test_in_the_order_in_which_it_happens_even_if_it_is_slow(world: World) -> None:
    world.sessions.gate.clear()
    await world.look()
    world.site.settle(930)
    await world.look()
    world.sessions.gate.set()
    heard = await world.settle()
    assert [held for station, held in heard if station == "bay-1"] == [True, False]
    assert [held for station, held in heard if station == "bay-0"] == [False, True]


async def test_after_a_restart_it_is_told_again(world: World) -> None:
    await world.look()
    world.site.settle(930)
    world.holding = world.make()
    assert sorted(await world.look()) == [("bay-0", True), ("bay-1", False)]


async def test_what_was_not_heard_is_told_at_the_next_look(world: World) -> None:
    world.sessions.missing = {"bay-1"}
    assert await world.look() == [("bay-0", False)]
    world.sessions.missing = set()
    assert await world.look() == [("bay-1", True)]


async def test_a_fault_is_told_at_the_next_look(world: World) -> None:
    world.sessions.broken = True
    assert await world.look() == []
    world.sessions.broken = False
    assert await world.look() == [("bay-0", False), ("bay-1", True)]


async def test_of_a_lost_bay_nothing_new_is_said_and_an_empty_one_is_forgotten(world: World) -> None:
    await world.look()
    world.site.lose(1)
    world.site.settle(1)
    assert await world.look() == []
    assert world.holding.held("yard") == {B}
    world.site.unplug(0)
    assert await world.look() == []
    world.site.plug(0).settle(2)
    assert await world.look() == [("bay-0", False)]


async def test_a_site_that_is_not_steered_any_more_holds_nobody(world: World) -> None:
    await world.look()
    world.holding.let_go("yard")
    assert await world.settle() == [("bay-1", False)]
    assert world.holding.held("yard") == set()
