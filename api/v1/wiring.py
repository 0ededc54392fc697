"""`/v1/stations/{id}/wiring-check`: is a charger wired as it is written down?"""

from typing import Literal

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Instant, Output
from csms.power.rotation_check import Verdict

router = APIRouter(prefix="/stations", tags=["stations"], route_class=GuardedRoute)

LineName = Literal["L1", "L2", "L3"]


class WiredLine(Output):
    """One of the station's own lines. `gains`: A that each line of the supply moved per A of the car."""

    station_line: LineName
    configured: LineName
    found: LineName | None = Field(description="null: it cannot be told")
    gains: dict[LineName, float]
    steps: int


class WiringResult(Output):
    """What the last check came to. `circuit_id`: where the building was measured."""

    at: Instant
    circuit_id: str
    verdict: Verdict
    confidence: float
    why: str
    lines: list[WiredLine]


class WiringOut(Output):
    """`result` null: never checked."""

    station_id: str
    running: bool
    result: WiringResult | None


@router.post("/{station_id}/wiring-check", status_code=202)
async def start(central: TheCentral, station_id: Id) -> WiringOut:
    """Step the one car that charges there up and down for six minutes, and see which line of the building's
    meter moves with it. All limits hold meanwhile. Needs a meter above it that counts the total."""
    await central.wiring_checks.start(station_id)
    return await _out(central, station_id)


@router.get("/{station_id}/wiring-check")
async def result(central: TheCentral, station_id: Id) -> WiringOut:
    """What the last check came to, and whether one is running."""
    return await _out(central, station_id)


async def _out(central: TheCentral, station_id: str) -> WiringOut:
    running, found = await central.wiring_checks.result(station_id)
    kept = None if found is None else WiringResult.model_validate(found)
    return WiringOut(station_id=station_id, running=running, result=kept)
