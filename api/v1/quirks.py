"""`/v1/station-quirks`: what models of chargers get wrong; `/v1/stations/{id}/manners`: how one is taken."""

from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Note, Number, Output
from csms.stations.quirks.quirk import Quirk

router = APIRouter(tags=["stations"], route_class=GuardedRoute)

Factor = Annotated[float, Field(description="Told values times this are in the unit that they claim")]
Text = Annotated[Note, Field(max_length=255)]


class NewQuirk(Input):
    """Of which stations, by what they tell at boot ("" fits all; `firmware`: how the version begins), and
    what is put right. `false_z`: times that end in Z are local times of `zone` too."""

    vendor: Text = ""
    model: Text = ""
    firmware: Text = ""
    energy_factor: Factor = 1.0
    power_factor: Factor = 1.0
    current_factor: Factor = 1.0
    zone: Annotated[Note, Field(max_length=64, examples=["Europe/Amsterdam"])] = ""
    false_z: bool = False
    note: Text = ""


class QuirkOut(Output):
    """A quirk. What was told is kept beside what it makes of it."""

    id: int
    vendor: str
    model: str
    firmware: str
    energy_factor: float
    power_factor: float
    current_factor: float
    zone: str
    false_z: bool
    note: str


class QuirksOut(Output):
    """All of them."""

    items: list[QuirkOut]


class Manners(Input):
    """`assume_16`: it names no version of OCPP when it connects, and speaks 1.6."""

    assume_16: bool


class MannersOut(Output):
    """How a station is taken."""

    assume_16: bool


@router.get("/station-quirks", response_model=QuirksOut)
async def list_quirks(central: TheCentral) -> dict[str, tuple[Quirk, ...]]:
    """The oldest first. What numbers betray is proposed by the event `station.quirk_proposed`."""
    return {"items": await central.quirks.list()}


@router.post("/station-quirks", status_code=201, response_model=QuirkOut)
async def add_quirk(central: TheCentral, body: NewQuirk) -> Quirk:
    """Put it right from now on."""
    return await central.quirks.add(Quirk(**body.model_dump()))


@router.delete("/station-quirks/{quirk_id}", status_code=204)
async def delete_quirk(central: TheCentral, quirk_id: Number) -> None:
    """Put it right no longer. What was put right stays so."""
    await central.quirks.drop(quirk_id)


@router.get("/stations/{station_id}/manners", response_model=MannersOut)
async def manners(central: TheCentral, station_id: Id) -> dict[str, bool]:
    """How the station is taken."""
    await central.stations.get(station_id)
    return {"assume_16": await central.quirks.assumes_16(station_id)}


@router.put("/stations/{station_id}/manners", response_model=MannersOut)
async def set_manners(central: TheCentral, station_id: Id, body: Manners) -> dict[str, bool]:
    """From its next connection on."""
    await central.quirks.assume_16(station_id, body.assume_16)
    return {"assume_16": body.assume_16}
