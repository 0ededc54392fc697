"""`/v1/sites/ID/emission-factors`: grams of CO2 equivalent per kWh of the site's electricity, in time."""

from datetime import timedelta
from decimal import Decimal
from typing import Annotated, Literal

from fastapi import APIRouter, Query
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Output
from csms.errors import InvalidInput
from csms.metering.emissions.factor import LARGEST_G_PER_KWH, MOST, EmissionFactor, series

router = APIRouter(prefix="/sites", tags=["reports"], route_class=GuardedRoute)

From = Annotated[Instant, Query(alias="from")]
To = Annotated[Instant, Query()]
SHOWN = 2000
Grams = Annotated[float, Field(ge=0, le=LARGEST_G_PER_KWH)]


class Series(Input):
    """Factors of equal length one after the other. They replace what was there for their time."""

    start: Instant
    step_min: Literal[5, 15, 30, 60, 1440, 525600] = 60
    g_per_kwh: Annotated[list[Grams], Field(min_length=1, max_length=MOST)]


class FactorOut(Output):
    """One factor, from inclusive to exclusive."""

    from_at: Instant
    to_at: Instant
    g_per_kwh: str = Field(description="Decimal text")


class FactorsOut(Output):
    """The first factors of the time that was asked for."""

    items: list[FactorOut]
    more: bool = Field(description="Whether there are more; ask for less time")


class Count(Output):
    """How many it were."""

    count: int


@router.put("/{site_id}/emission-factors", response_model=Count)
async def put(central: TheCentral, site_id: Id, body: Series) -> Count:
    """Upload a series."""
    try:
        new = series(body.start, timedelta(minutes=body.step_min), body.g_per_kwh)
    except OverflowError:
        raise InvalidInput("start", "and the series end outside the years 1 to 9999") from None
    await central.emissions.put(site_id, new)
    return Count(count=len(new))


@router.get("/{site_id}/emission-factors", response_model=FactorsOut)
async def get(central: TheCentral, site_id: Id, start: From, to: To) -> FactorsOut:
    """The factors of a time."""
    found = await central.emissions.between(site_id, start, to, SHOWN + 1)
    return FactorsOut(items=[_shown(each) for each in found[:SHOWN]], more=len(found) > SHOWN)


@router.delete("/{site_id}/emission-factors", response_model=Count)
async def remove(central: TheCentral, site_id: Id, start: From, to: To) -> Count:
    """Remove the factors that lie within a time."""
    return Count(count=await central.emissions.remove(site_id, start, to))


def _shown(factor: EmissionFactor) -> FactorOut:
    grams = Decimal(factor.mg_per_kwh) / 1000
    return FactorOut(from_at=factor.from_at, to_at=factor.to_at, g_per_kwh=f"{grams:f}")
