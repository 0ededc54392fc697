"""When plans are made, what comes of them, and what when none can be."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from csms.errors import Conflict
from csms.power.installation import Evse
from csms.power.planner.need import MemberNeed, Source, Told
from csms.power.planner.planner_service import PlannerService, PlannerSettings
from csms.power.planner.prices import PriceSlice
from csms.power.planner.problem import Problem, Solution
from csms.power.planner.schedule import Why
from csms.power.planner.worker import answer
from csms.power.planner.worker_service import NoPlan, Worker
from csms.sessions.news import SessionNews
from csms.sessions.session import State
from csms.sites.model import Sharing
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.model import ChargingState, Reading
from tests.conftest import NOON
from tests.csms.yard import facts

VAN, VISITOR = Evse("VAN-1", 1), Evse("VAN-2", 1)
BY_SIX = NOON + timedelta(hours=18)
pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


async def obey(_registry: object, _station: str, _command: Command, **_: object) -> CommandResult:
    """Every station takes everything."""
    return CommandResult(CommandStatus.ACCEPTED)


class InProcess(Worker):
    """Plans where it is asked; `fails` times it does not."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[Problem] = []
        self.fails = 0

    async def solve(self, problem: Problem) -> Solution:
        self.asked.append(problem)
        if self.fails:
            self.fails -= 1
            raise NoPlan("the planner's process died")
        found = answer(problem)
        assert isinstance(found, Solution), found
        return found


@pytest.fixture
async def planned(world: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The world with power, and a planner whose worker is here."""
    central = world.central
    world.worker = InProcess()
    world.told = []
    planner = central.planning.planner
    planner._worker = world.worker
    planner._tell = world.told.append
    world.planner = planner
    world.controller = lambda: central.power.controllers["yard"]
    registry = type(central.commands)
    monkeypatch.setattr(registry, "ask", obey)
    monkeypatch.setattr(registry, "station_ids", frozenset({"VAN-1", "VAN-2"}))
    await central.power.start()
    now = world.clock.now()
    slices = [
        PriceSlice(now, now + timedelta(hours=12), Decimal("2.00")),
        PriceSlice(now + timedelta(hours=12), now + timedelta(hours=30), Decimal("0.50")),
    ]
    await central.planning.prices.replace("yard", "NOK", slices)
    return world


def most_a(world: Any, evse: Evse, hours: float) -> float | None:
    """What the plan that the steering has says of a time to come."""
    plan = world.controller().state.plan
    found: float | None = plan.cars[evse].current((NOON + timedelta(hours=hours)).timestamp())
    return found


async def a_plan(world: Any, cars: int) -> None:
    def there() -> bool:
        plan = world.controller().state.plan
        return plan is not None and len(plan.cars) == cars

    await world.until(there, f"a plan for {cars} cars")


async def test_a_van_with_a_members_need_waits_for_the_cheap_hours(planned: Any) -> None:
    need = MemberNeed(days=(1, 2, 3, 4, 5), leaves_at=BY_SIX.time(), energy_wh=20_000)
    await planned.central.planning.needs.set_of_member("bakery", need)
    session = await planned.plug_in("VAN-1", "04B4KE")
    await planned.plug_in("VAN-2")
    await a_plan(planned, 2)
    assert most_a(planned, VAN, 1) == 0.0
    assert planned.controller().state.plan.cars[VISITOR].free
    shown = await planned.planner.shown("yard")
    assert shown.fault == ""
    van, visitor = shown.schedule.cars
    assert (van.session_id, van.goal.energy_from) == (session.id, Source.MEMBER)
    assert van.stretches[0].reason.why is Why.WAITS_CHEAPER
    assert van.stretches[0].reason.until >= NOON + timedelta(hours=12)
    assert van.planned_wh == pytest.approx(20_000, abs=1)
    assert van.cost == Decimal("10.0000")
    assert not visitor.held
    assert set(planned.told) == {"yard"}


async def test_twenty_causes_within_two_seconds_are_one_plan(planned: Any) -> None:
    await planned.plug_in("VAN-1")
    await a_plan(planned, 1)
    before = len(planned.worker.asked)
    for i in range(20):
        planned.planner.poke("yard", f"arrival {i}")
    await planned.until(lambda: len(planned.worker.asked) > before, "a plan")
    await planned.until(lambda: not planned.planner._running, "and then none is asked for")
    assert len(planned.worker.asked) == before + 1


async def test_who_leaves_and_what_is_told_makes_a_new_plan(planned: Any) -> None:
    first = await planned.plug_in("VAN-1")
    second = await planned.plug_in("VAN-2")
    await a_plan(planned, 2)
    told = Told(source=Source.PERSON, energy_wh=10_000, departure=BY_SIX)
    await planned.central.planning.needs.set_of_session(first.id, told)
    await planned.until(lambda: not planned.controller().state.plan.cars[VAN].free, "its need counts")
    assert most_a(planned, VAN, 1) == 0.0
    await planned.unplug(second)
    await a_plan(planned, 1)
    now = planned.clock.now()
    flat = PriceSlice(now - timedelta(hours=1), now + timedelta(hours=40), Decimal("1.00"))
    await planned.central.planning.prices.replace("yard", "NOK", [flat])
    hours = (now - NOON) / timedelta(hours=1)
    await planned.until(lambda: most_a(planned, VAN, hours + 0.1), "prices count: it need not wait")


async def test_a_worker_that_fails_once_costs_nothing_and_twice_the_plan(planned: Any) -> None:
    await planned.plug_in("VAN-1")
    await a_plan(planned, 1)
    planned.worker.fails = 1
    planned.planner.poke("yard", "again")
    await planned.until(lambda: not planned.planner._running, "it was tried twice")
    assert (await planned.planner.shown("yard")).schedule is not None
    planned.worker.fails = 2
    planned.planner.poke("yard", "again")
    await planned.until(lambda: planned.controller().state.plan is None, "the site goes on without a plan")
    await planned.until(lambda: not planned.planner._running, "and says so")
    shown = await planned.planner.shown("yard")
    assert (shown.schedule, shown.fault) == (None, "the planner's process died")
    planned.planner.poke("yard", "again")
    await a_plan(planned, 1)
    await planned.until(lambda: not planned.planner._running, "told")
    told = await facts(planned.central.database, "plan.")
    assert [fact.topic for fact in told] == ["plan.failed", "plan.made_again"]


async def test_every_quarter_of_an_hour_and_when_the_building_takes_more(planned: Any) -> None:
    await planned.plug_in("VAN-1")
    planned.planner.start()
    await a_plan(planned, 1)
    before = len(planned.worker.asked)
    begun = planned.clock.now()
    await planned.until(lambda: len(planned.worker.asked) > before, "the next quarter", step_s=5.0)
    assert planned.clock.now() - begun <= timedelta(minutes=17)
    before, begun = len(planned.worker.asked), planned.clock.now()

    def more() -> bool:
        planned.controller().building_measured("main", dict.fromkeys(("L1", "L2", "L3"), 20.0))
        return len(planned.worker.asked) > before

    await planned.until(more, "a base load above its forecast of 0 A")
    assert planned.clock.now() - begun <= timedelta(minutes=6)


async def test_only_sites_that_want_plans_have_them(planned: Any) -> None:
    central = planned.central
    await planned.plug_in("VAN-1")
    await a_plan(planned, 1)
    await central.sites.update_site("yard", strategy=Sharing.WEIGHTED)
    with pytest.raises(Conflict, match="set its strategy to 'planned'"):
        await planned.planner.shown("yard")
    await central.power.stop()
    await central.power.start()
    before = len(planned.worker.asked)
    planned.planner.poke("yard", "it had a plan")
    await planned.until(lambda: not planned.planner._running, "looked at")
    assert planned.controller().state.plan is None
    assert len(planned.worker.asked) == before
    planned.planner.poke("yard", "no more")
    assert not planned.planner._running
    await central.sites.set_active("yard", False)
    with pytest.raises(Conflict, match="not active"):
        await planned.planner.shown("yard")


async def test_what_the_meter_says_of_the_battery_counts(planned: Any) -> None:
    """40 % of 54 kWh are missing: 24 kWh at the socket, of which the charge has 1.5 kWh before that."""
    session = await planned.plug_in("VAN-1", energy_wh=1_500)
    told = Told(source=Source.PERSON, to_percent=100, battery_wh=54_000, departure=BY_SIX)
    await planned.central.planning.needs.set_of_session(session.id, told)
    news = SessionNews(
        session_id=session.id,
        station_id="VAN-1",
        evse=1,
        transaction_id="t1",
        state=State.CHARGING,
        charging=ChargingState.CHARGING,
        energy_wh=1_500,
        member_id=None,
        reading=Reading(at=planned.clock.now(), soc_percent=60.0),
    )
    planned.planner.session_news(news)
    planned.planner.poke("yard", "it told how full it is")

    def knows() -> bool:
        plan = planned.controller().state.plan
        return plan is not None and VAN in plan.cars and plan.cars[VAN].energy_wh == pytest.approx(25_500)

    await planned.until(knows, "its need by the battery")
    planned.planner.session_news(replace(news, state=State.ENDED))
    assert planned.planner._soc == {}


async def test_a_site_without_cars_needs_no_worker(planned: Any) -> None:
    planned.planner.poke("yard", "look")
    await planned.until(lambda: planned.controller().state.plan is not None, "an empty plan")
    assert planned.worker.asked == []
    assert isinstance(planned.planner, PlannerService)
    assert PlannerSettings().quantile == 0.85
