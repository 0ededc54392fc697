"""`/v1/stations/{id}/place`: a place for a charger that has connected and waits for one."""

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Amps, Id, Ident, Input, absent
from api.v1.stations import Evses, Label, StationOut, Wiring
from csms.errors import InvalidInput
from csms.stations.record import Station

router = APIRouter(prefix="/stations", tags=["stations"], route_class=GuardedRoute)


class Place(Input):
    """Either `planned`, the station whose place it takes over, or where and how it is installed."""

    planned: Ident = Field(default_factory=absent, description="A station that never came")
    name: Label = Field(default_factory=absent)
    site_id: Ident = Field(default_factory=absent)
    circuit_id: Ident = Field(default_factory=absent)
    evses: Evses = Field(default_factory=absent)
    wiring: Wiring = Field(default_factory=absent)
    max_current_a: Amps = Field(default_factory=absent)
    step_a: float = Field(default_factory=absent)
    fallback_a: Amps = Field(default_factory=absent)
    can_choose_line: bool = Field(default_factory=absent)
    keeps_profiles: bool = Field(default_factory=absent)


@router.post("/{station_id}/place", response_model=StationOut)
async def give_place(central: TheCentral, station_id: Id, body: Place) -> Station:
    """Give a waiting station (`registration` pending) its place; it is accepted from now on."""
    changes = body.given()
    if "planned" in changes and len(changes) > 1:
        raise InvalidInput("planned", "a planned place has all its values; leave out the others")
    if "wiring" in changes:
        changes["wiring"] = tuple(changes["wiring"])
    return await central.stations.place(station_id, **changes)
