"""`/v1/stations/{id}/composite`: what a charger makes of its charging profiles, and what we make of them."""

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import Field

from api import errors
from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Output
from csms.stations.commands import CommandStatus
from csms.stations.composite.combine import Running
from csms.stations.composite.service import LONGEST_S, Comparison, Surroundings
from csms.stations.model import RateUnit

router = APIRouter(
    prefix="/stations/{station_id}/composite",
    tags=["commands"],
    route_class=GuardedRoute,
    responses=errors.described(504),
)


class CompositeIn(Input):
    """`evse` 0: the station as a whole."""

    evse: Annotated[int, Field(ge=0, le=1000)] = 0
    duration_s: Annotated[int, Field(ge=1, le=LONGEST_S)] = 3600
    unit: Annotated[RateUnit, Field(strict=False)] = RateUnit.AMPERE


class StepOut(Output):
    """From `start_s` seconds on; `limit` null: none. In A per line or W in all."""

    start_s: int
    limit: float | None
    phases: int | None
    limit_l2: float | None = None
    limit_l3: float | None = None


class ScheduleOut(Output):
    """Limits from `start_at` on."""

    start_at: Instant | None
    duration_s: int
    unit: RateUnit
    steps: list[StepOut]


class DifferenceOut(Output):
    """`looser`: the station would draw more than we reckon with."""

    from_s: int
    to_s: int
    ours: float | None
    theirs: float | None
    looser: bool


class ComparisonOut(Output):
    """`complete` false: the station may hold profiles that we do not know of."""

    evse: int
    at: Instant
    status: CommandStatus
    detail: str
    complete: bool
    ours: ScheduleOut
    theirs: ScheduleOut | None
    differences: list[DifferenceOut]


@router.post("", response_model=ComparisonOut)
async def compare(central: TheCentral, asking: Asking, station_id: Id, body: CompositeIn) -> dict[str, Any]:
    """Ask the station for its composite schedule and compare it with ours.

    `theirs` null with `status` accepted: the station says that it has no limit.
    """
    station = await central.stations.get(station_id)
    sessions = [each for each in await central.sessions.open_sessions() if each.station_id == station_id]
    running = {
        each.evse: Running(each.transaction_id or str(each.id), each.started_at)
        for each in sessions
        if each.evse is not None
    }
    zone = (await central.sites.get_site(station.site_id)).time_zone if station.site_id else "UTC"
    found: Comparison = await central.composites.compare(
        station_id,
        central.commands,
        evse=body.evse,
        duration_s=body.duration_s,
        unit=body.unit,
        around=Surroundings(running, zone),
        asked_by=str(asking),
    )
    theirs = None
    if found.theirs is not None:
        theirs = {
            "start_at": found.theirs.start_at,
            "duration_s": found.theirs.duration_s,
            "unit": found.theirs.unit,
            "steps": found.theirs.periods,
        }
    return {
        "evse": found.evse,
        "at": found.at,
        "status": found.status,
        "detail": found.detail,
        "complete": found.complete,
        "ours": found.ours,
        "theirs": theirs,
        "differences": found.differences,
    }
