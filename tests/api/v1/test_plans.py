"""The plan to read over REST."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.power.installation import Evse, Line
from csms.power.planner.forecast import Basis
from csms.power.planner.gather import Left
from csms.power.planner.need import Goal, Source
from csms.power.planner.planner_service import PlanShown
from csms.power.planner.schedule import CarSchedule, Reason, Schedule, Shortfall, Stretch, Why
from tests.conftest import NOON

URL = "/v1/sites/weavers-yard/plan"
pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def plan() -> Schedule:
    """A van that waits an hour and will be short; a visitor of whom nothing is known; one that is lost."""
    goal = Goal(
        energy_wh=24_000.0,
        left_wh=20_000.0,
        departure=NOON + timedelta(hours=18),
        energy_from=Source.PERSON,
        departure_from=Source.MEMBER,
    )
    unknown = Goal(
        energy_wh=20_000.0,
        left_wh=20_000.0,
        departure=None,
        energy_from=Source.ASSUMED,
        departure_from=Source.ASSUMED,
    )
    hour = timedelta(hours=1)
    waits = Stretch(
        start=NOON,
        end=NOON + hour,
        current_a=0.0,
        power_w=0.0,
        energy_wh=0.0,
        cost=Decimal("0.0000"),
        reason=Reason(why=Why.WAITS_CHEAPER, until=NOON + hour),
    )
    charges = Stretch(
        start=NOON + hour,
        end=NOON + 2 * hour,
        current_a=13.3333,
        power_w=9_200.0,
        energy_wh=9_200.0,
        cost=Decimal("3.7720"),
        reason=Reason(why=Why.CIRCUIT, circuit="main", line=Line.L2),
    )
    van = CarSchedule(
        evse=Evse("VAN-1", 1),
        session_id=5,
        goal=goal,
        charged_wh=4_000.0,
        planned_wh=9_200.0,
        held=True,
        stretches=(waits, charges),
        cost=Decimal("3.7720"),
        shortfall=Shortfall(energy_wh=10_800.0, circuit="main", line=Line.L2),
    )
    others = [
        CarSchedule(
            evse=Evse(name, 1),
            session_id=6,
            goal=unknown,
            charged_wh=0.0,
            planned_wh=0.0,
            held=False,
            left=left,
        )
        for name, left in (("BAY-1", None), ("BAY-2", Left.UNREACHABLE))
    ]
    return Schedule(
        made_at=NOON,
        ends_at=NOON + timedelta(days=1),
        currency="NOK",
        price_source="prices that were put for this site",
        prices_until=NOON + timedelta(hours=20),
        basis={"main": Basis.CONFIGURED},
        cars=(van, *others),
        complete=True,
    )


@pytest.fixture
async def planned(manager: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    for change in ({"strategy": "planned"}, {"active": True}):
        answer = await manager.patch("/v1/sites/weavers-yard", json=change)
        assert answer.status_code == 200, answer.text


async def test_a_person_can_read_it(
    manager: httpx.AsyncClient, central: Central, planned: None, clock: ManualClock
) -> None:
    central.planning.planner._shown["weavers-yard"] = PlanShown(plan(), "")
    shown = (await manager.get(URL)).json()
    assert (shown["made_at"], shown["fault"], shown["currency"]) == ("2026-11-02T11:00:00Z", "", "NOK")
    assert shown["base_load"] == [
        {
            "circuit_id": "main",
            "basis": "configured",
            "words": "the configured worst case, as too little was measured yet",
        }
    ]
    assert shown["assumptions"][0].startswith("Prices are known until 08:00;")
    van, visitor, lost = shown["cars"]
    assert van["need"] == {
        "energy_kwh": 24.0,
        "energy_from": "person",
        "departure": "2026-11-03T05:00:00Z",
        "departure_from": "member",
    }
    assert [
        (s["current_a"], s["power_kw"], s["energy_kwh"], s["cost"], s["reason"]) for s in van["slots"]
    ] == [
        (0.0, 0.0, 0.0, "0.0000", "Waits for the cheaper hours from 13:00."),
        (13.33, 9.2, 9.2, "3.7720", "Charges with what L2 of Supply leaves."),
    ]
    assert (van["cost"], van["held"], van["assumptions"]) == ("3.7720", True, [])
    assert van["shortfall"] == {
        "energy_kwh": 10.8,
        "circuit_id": "main",
        "line": "L2",
        "reason": "10.8 kWh will be missing at its departure: L2 of Supply is full.",
    }
    assert len(visitor["assumptions"]) == 2
    assert visitor["shortfall"] is None
    assert lost["not_planned"] == "unreachable"
    assert lost["assumptions"][-1].startswith("Its charger cannot be told")


async def test_without_a_plan_it_says_why(
    manager: httpx.AsyncClient, central: Central, planned: None
) -> None:
    first = (await manager.get(URL)).json()
    assert (first["made_at"], first["fault"]) == (None, "the first plan is being made")
    central.planning.planner._shown["weavers-yard"] = PlanShown(None, "the planner's process died")
    assert (await manager.get(URL)).json()["fault"] == "the planner's process died"


async def test_a_site_that_is_not_planned_says_what_to_do(
    manager: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    idle = await manager.get(URL)
    assert (idle.status_code, "not active" in idle.text) == (409, True)
    await manager.patch("/v1/sites/weavers-yard", json={"active": True})
    weighted = await manager.get(URL)
    assert (weighted.status_code, "set its strategy to" in weighted.text) == (409, True)
    assert (await manager.get("/v1/sites/moon/plan")).status_code == 404
