"""`/v1/sessions/{id}/need` and `/v1/members/{id}/need`: what a car needs and by when."""

from datetime import time
from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Number, Output
from csms.errors import InvalidInput
from csms.power.planner.need import LARGEST_WH, MemberNeed, Source, Told

router = APIRouter(tags=["plans"], route_class=GuardedRoute)

EnergyWh = Annotated[int, Field(ge=1, le=LARGEST_WH)]
Percent = Annotated[int, Field(ge=1, le=100)]
Day = Annotated[int, Field(ge=1, le=7)]


class SessionNeedIn(Input):
    """What this charge needs. Give a departure, an energy, or how full the battery is to be.

    `to_percent` needs the battery's size and how full it is, by whoever told them; else `energy_wh`
    counts. What is left out is taken from the car, or from what the member always needs.
    """

    departure: Instant | None = None
    energy_wh: EnergyWh | None = Field(default=None, description="Of the whole charge, at the socket")
    to_percent: Percent | None = None
    battery_wh: EnergyWh | None = None
    soc_percent: Annotated[int, Field(ge=0, le=100)] | None = Field(
        default=None, description="How full the battery is now"
    )


class SessionNeedOut(Output):
    """What a person told for this charge."""

    departure: Instant | None
    energy_wh: int | None
    to_percent: int | None
    battery_wh: int | None
    soc_percent: float | None


class MemberNeedIn(Input):
    """What every charge of the member needs, unless something else is told for it.

    The car leaves at `leaves_at` by the site's own clock, on the first of the `days` after it came.
    """

    days: list[Day] = Field(min_length=1, max_length=7, description="1 for Monday to 7 for Sunday")
    leaves_at: str = Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$", examples=["06:00"])
    energy_wh: EnergyWh | None = Field(default=None, description="Of the whole charge, at the socket")
    to_percent: Percent | None = None
    battery_wh: EnergyWh | None = None


class MemberNeedOut(Output):
    """What every charge of a member needs."""

    days: list[int]
    leaves_at: str
    energy_wh: int | None
    to_percent: int | None
    battery_wh: int | None


@router.get("/sessions/{session_id}/need", response_model=SessionNeedOut)
async def of_session(central: TheCentral, session_id: Number) -> Told:
    """What a person told for this charge; the plan shows what counts in the end."""
    return await central.planning.needs.of_session(session_id)


@router.put("/sessions/{session_id}/need", response_model=SessionNeedOut)
async def set_of_session(central: TheCentral, session_id: Number, body: SessionNeedIn) -> Told:
    """Tell what this charge needs, in place of what was told before. The site is planned anew."""
    told = Told(
        source=Source.PERSON,
        departure=body.departure,
        energy_wh=body.energy_wh,
        to_percent=body.to_percent,
        battery_wh=body.battery_wh,
        soc_percent=body.soc_percent,
    )
    return await central.planning.needs.set_of_session(session_id, told)


@router.delete("/sessions/{session_id}/need", status_code=204)
async def forget_of_session(central: TheCentral, session_id: Number) -> None:
    """Take it back; what the car told and the member always needs count again."""
    await central.planning.needs.forget_of_session(session_id)


@router.get("/members/{member_id}/need", response_model=MemberNeedOut)
async def of_member(central: TheCentral, member_id: Id) -> MemberNeedOut:
    """What every charge of the member needs."""
    return _shown(await central.planning.needs.of_member(member_id))


@router.put("/members/{member_id}/need", response_model=MemberNeedOut)
async def set_of_member(central: TheCentral, member_id: Id, body: MemberNeedIn) -> MemberNeedOut:
    """From now on every charge of the member needs this."""
    try:
        leaves_at = time.fromisoformat(body.leaves_at)
    except ValueError:
        raise InvalidInput("leaves_at", 'give an hour of the day, e.g. "06:00"') from None
    need = MemberNeed(
        days=tuple(body.days),
        leaves_at=leaves_at,
        energy_wh=body.energy_wh,
        to_percent=body.to_percent,
        battery_wh=body.battery_wh,
    )
    return _shown(await central.planning.needs.set_of_member(member_id, need))


@router.delete("/members/{member_id}/need", status_code=204)
async def forget_of_member(central: TheCentral, member_id: Id) -> None:
    """Take it back: nothing is known of what the member needs."""
    await central.planning.needs.forget_of_member(member_id)


def _shown(need: MemberNeed) -> MemberNeedOut:
    return MemberNeedOut(
        days=list(need.days),
        leaves_at=f"{need.leaves_at:%H:%M}",
        energy_wh=need.energy_wh,
        to_percent=need.to_percent,
        battery_wh=need.battery_wh,
    )
