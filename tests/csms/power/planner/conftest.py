"""Small problems to plan: cars behind one supply; and a site with two vans' places."""

import asyncio
from collections.abc import AsyncIterator, Callable
from typing import Any

import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.power.planner.problem import PlannedCar, Problem
from csms.sessions.session import Session
from csms.settings import Settings
from csms.sites.model import CircuitMeter, MeterCounts, Sharing, System
from csms.stations.model import ChargingState, Reading, TokenRef
from csms.stations.questions import TransactionReported, TransactionStep

STAR_W = 230.0
"""W per A of a car on one line against neutral (230 V)."""


def make_car(id: str, lines: tuple[int, ...] = (0, 1, 2), **facts: Any) -> PlannedCar:
    """A car on lines 0 to 2 of one supply, whose rows are the lines."""
    usual: dict[str, Any] = {
        "path": tuple((line, 1.0) for line in lines),
        "watts_per_a": STAR_W * len(lines),
        "max_a": 16.0,
        "need_wh": 5_520.0,
        "last": 8,
    }
    return PlannedCar(id=id, **{**usual, **facts})


def make_problem(*cars: PlannedCar, slots: int = 8, supply_a: float = 32.0, **facts: Any) -> Problem:
    """Quarter hours that all cost the same."""
    usual: dict[str, Any] = {
        "hours": (0.25,) * slots,
        "heads": dict.fromkeys(range(3), (supply_a,) * slots),
        "prices": (0.3,) * slots,
        "start_cost": 0.01,
        "time_limit_s": 30.0,
    }
    return Problem(cars=cars, **{**usual, **facts})


@pytest.fixture
def car() -> Callable[..., PlannedCar]:
    """Makes a car: `car("a", (0,), need_wh=3000, last=4)`."""
    return make_car


@pytest.fixture
def problem() -> Callable[..., Problem]:
    """Makes a problem of cars."""
    return make_problem


class World:
    """A whole system without sockets, two vans' places on a supply of 32 A that is shared by plans."""

    def __init__(self, central: Central, clock: ManualClock) -> None:
        self.central, self.clock = central, clock
        self.count = 0

    async def plug_in(self, station: str, card: str = "", energy_wh: int = 0) -> Session:
        """A car comes; with `energy_wh` it has charged for ten minutes."""
        self.count += 1
        await self._told(TransactionStep.BEGAN, station, f"t{self.count}", card, 1_000)
        found = await self.central.sessions.by_transaction(station, f"t{self.count}")
        if energy_wh:
            self.clock.advance(600)
            await self._told(TransactionStep.UPDATED, station, f"t{self.count}", "", 1_000 + energy_wh)
        return await self.central.sessions.get(found.id)

    async def unplug(self, session: Session) -> None:
        await self._told(TransactionStep.ENDED, session.station_id, session.transaction_id, "", 2_000)

    async def _told(
        self, step: TransactionStep, station: str, transaction: str | None, card: str, register_wh: int
    ) -> None:
        report = TransactionReported(
            step=step,
            transaction_id=transaction,
            at=self.clock.now(),
            evse=1,
            connector=1,
            token=TokenRef(card) if card else None,
            charging=None if step is TransactionStep.ENDED else ChargingState.CHARGING,
            sequence=None,
            readings=(Reading(at=self.clock.now(), register_wh=register_wh),),
        )
        await self.central.dispatcher.ask(station, report, self.clock.now())

    async def until(self, ready: Callable[[], object], what: str, step_s: float = 0.5) -> None:
        """Time goes on until it is so."""
        for _ in range(2_000):
            if ready():
                return
            self.clock.advance(step_s)
            await asyncio.sleep(0.005)
        raise AssertionError(f"never: {what}")


@pytest.fixture
async def world(database_url: str, clock: ManualClock) -> AsyncIterator[World]:
    """At noon on a Monday in Oslo."""
    central = Central(Settings(database_url=database_url), clock)
    await central.database.open()
    await central.sites.create_site(
        id="yard", name="Yard", time_zone="Europe/Oslo", currency="NOK", system=System.TN_400
    )
    await central.sites.update_site("yard", strategy=Sharing.PLANNED)
    await central.sites.create_circuit(
        "yard",
        id="main",
        name="Supply",
        fed_from=None,
        limit_a=(32, 32, 32),
        meter=CircuitMeter(MeterCounts.BASE, 10.0),
    )
    for station in ("VAN-1", "VAN-2"):
        await central.stations.create(id=station, site_id="yard", circuit_id="main", fallback_a=6)
    await central.members.create(id="bakery", site_id="yard", name="Bakery's van")
    await central.tokens.create(text="04B4KE", member_id="bakery")
    await central.sites.set_active("yard", True)
    yield World(central, clock)
    await central.planning.stop()
    await central.power.stop()
    await central.tasks.close()
    await central.database.close()
