"""`/v1/sites/{id}/plan`: which car charges when, what it costs, and why; to read."""

from collections.abc import Mapping
from datetime import tzinfo
from decimal import Decimal
from zoneinfo import ZoneInfo

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Instant, Output
from csms.power.installation import Line
from csms.power.planner import wording
from csms.power.planner.forecast import Basis
from csms.power.planner.gather import Left
from csms.power.planner.need import Source
from csms.power.planner.schedule import CarSchedule, Schedule, Stretch, Why

router = APIRouter(prefix="/sites", tags=["plans"], route_class=GuardedRoute)


class StretchOut(Output):
    """From `start` to `end` the car has this much; `reason` is `why` in words."""

    start: Instant
    end: Instant
    current_a: float
    power_kw: float
    energy_kwh: float
    cost: str | None = Field(description="Of the energy; null: no prices are known")
    why: Why
    reason: str


class ShortfallOut(Output):
    """What will be missing at the departure; `circuit` null: the car's own power is too low."""

    energy_kwh: float
    circuit_id: str | None
    line: Line | None
    reason: str


class NeedOut(Output):
    """What counts of all that was told: energy of the whole charge, and the departure."""

    energy_kwh: float
    energy_from: Source
    departure: Instant | None
    departure_from: Source


class CarOut(Output):
    """One car. `held` false: the plan does not hold it back. `not_planned`: why it has no hours here."""

    station_id: str
    evse: int
    session_id: int
    need: NeedOut
    charged_kwh: float
    planned_kwh: float
    cost: str | None
    held: bool
    not_planned: Left | None
    assumptions: list[str]
    shortfall: ShortfallOut | None
    slots: list[StretchOut]


class BaseOut(Output):
    """What the forecast of a circuit's base load rests on."""

    circuit_id: str
    basis: Basis
    words: str


class PlanOut(Output):
    """A site's plan. `made_at` null: there is none, and `fault` says why; cars charge as without a plan."""

    site_id: str
    made_at: Instant | None
    ends_at: Instant | None
    fault: str
    currency: str | None
    price_source: str
    assumptions: list[str]
    base_load: list[BaseOut]
    cars: list[CarOut]


@router.get("/{site_id}/plan", response_model=PlanOut)
async def get_plan(central: TheCentral, site_id: Id) -> PlanOut:
    """The plan that the site goes by now."""
    shown = await central.planning.planner.shown(site_id)
    plan = shown.schedule
    if plan is None:
        return PlanOut(
            site_id=site_id,
            made_at=None,
            ends_at=None,
            fault=shown.fault,
            currency=None,
            price_source="",
            assumptions=[],
            base_load=[],
            cars=[],
        )
    zone = ZoneInfo((await central.sites.get_site(site_id)).time_zone)
    names = {circuit.id: circuit.name for circuit in await central.sites.circuits_of(site_id)}
    return _plan(site_id, plan, names, zone)


def _plan(site_id: str, plan: Schedule, names: Mapping[str, str], zone: tzinfo) -> PlanOut:
    return PlanOut(
        site_id=site_id,
        made_at=plan.made_at,
        ends_at=plan.ends_at,
        fault="",
        currency=plan.currency,
        price_source=plan.price_source,
        assumptions=wording.plan_assumptions(plan, names, zone),
        base_load=[
            BaseOut(circuit_id=circuit, basis=basis, words=wording.BASIS[basis])
            for circuit, basis in plan.basis.items()
        ],
        cars=[_car(car, names, zone) for car in plan.cars],
    )


def _car(car: CarSchedule, names: Mapping[str, str], zone: tzinfo) -> CarOut:
    short = car.shortfall
    assumed = wording.assumptions(car)
    if car.left is not None:
        assumed = [*assumed, wording.LEFT[car.left]]
    return CarOut(
        station_id=car.evse.station_id,
        evse=car.evse.evse_id,
        session_id=car.session_id,
        need=NeedOut(
            energy_kwh=_kilo(car.goal.energy_wh),
            energy_from=car.goal.energy_from,
            departure=car.goal.departure,
            departure_from=car.goal.departure_from,
        ),
        charged_kwh=_kilo(car.charged_wh),
        planned_kwh=_kilo(car.planned_wh),
        cost=_amount(car.cost),
        held=car.held,
        not_planned=car.left,
        assumptions=assumed,
        shortfall=None
        if short is None
        else ShortfallOut(
            energy_kwh=_kilo(short.energy_wh),
            circuit_id=short.circuit,
            line=short.line,
            reason=wording.shortfall_text(short, names),
        ),
        slots=[_stretch(stretch, names, zone) for stretch in car.stretches],
    )


def _stretch(stretch: Stretch, names: Mapping[str, str], zone: tzinfo) -> StretchOut:
    return StretchOut(
        start=stretch.start,
        end=stretch.end,
        current_a=round(stretch.current_a, 2),
        power_kw=_kilo(stretch.power_w),
        energy_kwh=_kilo(stretch.energy_wh),
        cost=_amount(stretch.cost),
        why=stretch.reason.why,
        reason=wording.reason_text(stretch.reason, names, zone),
    )


def _kilo(value: float) -> float:
    return round(value / 1000, 3)


def _amount(cost: Decimal | None) -> str | None:
    return None if cost is None else f"{cost:f}"
