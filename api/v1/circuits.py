"""`/v1/circuits`: the fused parts of a site's supply, from the incoming line down."""

from datetime import time
from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field, PlainSerializer

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Amps, Id, Ident, Input, LineAmps, Output, Text, absent
from api.pagination import After, Cursors, Limit, PageOut
from api.v1.meters import MeterIn, MeterOut
from csms.sites.model import MOST_WINDOWS, CapWindow, Circuit
from csms.store.paging import Page

router = APIRouter(prefix="/circuits", tags=["circuits"], route_class=GuardedRoute)
cursors = Cursors("circuits")

Watts = Annotated[int, Field(ge=0, le=1_000_000_000)]
Hour = Annotated[time, PlainSerializer(lambda at: f"{at:%H:%M}", return_type=str)]
_HOUR = r"^([01][0-9]|2[0-3]):[0-5][0-9]$"


class WindowIn(Input):
    """At most `cap_w` every day from `start` to before `end` by the site's clock, each hh:mm."""

    start: str = Field(pattern=_HOUR, examples=["17:00"])
    end: str = Field(pattern=_HOUR, examples=["20:00"])
    cap_w: Watts

    def window(self) -> CapWindow:
        return CapWindow(time.fromisoformat(self.start), time.fromisoformat(self.end), self.cap_w)


class WindowOut(Output):
    """A lower cap at some hours of the day."""

    start: Hour
    end: Hour
    cap_w: int


class NewCircuit(Input):
    """`fed_from` null: the supply itself. A line whose limit is 0 is not there."""

    id: Ident | None = None
    site_id: Ident
    name: Text
    fed_from: Ident | None = None
    limit_a: LineAmps
    device_a: Amps | None = Field(default=None, description="Rating of the fuse or breaker")
    cap_w: Watts | None = Field(default=None, description="Subscribed power over all lines")
    cap_windows: list[WindowIn] = Field(default_factory=list, max_length=MOST_WINDOWS)
    unbalance_a: Amps | None = Field(default=None, description="Largest difference between two lines")
    worst_base_a: LineAmps = Field(
        default=(0.0, 0.0, 0.0), description="What all but our chargers draw here at worst"
    )
    meter: MeterIn | None = None


class CircuitChange(Input):
    """What is left out stays."""

    name: Text = Field(default_factory=absent)
    fed_from: Ident | None = None
    limit_a: LineAmps = Field(default_factory=absent)
    device_a: Amps | None = None
    cap_w: Watts | None = None
    cap_windows: list[WindowIn] = Field(default_factory=absent, max_length=MOST_WINDOWS)
    unbalance_a: Amps | None = None
    worst_base_a: LineAmps = Field(default_factory=absent)
    meter: MeterIn | None = None


class CircuitOut(Output):
    """A circuit; currents in A."""

    id: str
    site_id: str
    name: str
    fed_from: str | None
    limit_a: LineAmps
    device_a: float | None
    cap_w: int | None
    cap_windows: tuple[WindowOut, ...]
    unbalance_a: float | None
    worst_base_a: LineAmps
    meter: MeterOut | None


@router.get("", response_model=PageOut[CircuitOut])
async def list_circuits(
    central: TheCentral, site: Annotated[Ident, Query()], limit: Limit = 50, after: After = None
) -> Page[Circuit]:
    """The circuits of a site, by id."""
    return cursors.write(await central.sites.list_circuits(site, after=cursors.read(after), limit=limit))


@router.post("", status_code=201, response_model=CircuitOut)
async def create_circuit(central: TheCentral, body: NewCircuit, response: Response) -> Circuit:
    """A new circuit, at its place in the tree."""
    circuit = await central.sites.create_circuit(
        body.site_id,
        id=body.id,
        name=body.name,
        fed_from=body.fed_from,
        limit_a=body.limit_a,
        device_a=body.device_a,
        cap_w=body.cap_w,
        cap_windows=tuple(each.window() for each in body.cap_windows),
        unbalance_a=body.unbalance_a,
        worst_base_a=body.worst_base_a,
        meter=None if body.meter is None else body.meter.meter(),
    )
    response.headers["Location"] = f"/v1/circuits/{circuit.id}"
    return circuit


@router.get("/{circuit_id}", response_model=CircuitOut)
async def get_circuit(central: TheCentral, circuit_id: Id) -> Circuit:
    """One circuit."""
    return await central.sites.get_circuit(circuit_id)


@router.patch("/{circuit_id}", response_model=CircuitOut)
async def change_circuit(central: TheCentral, circuit_id: Id, body: CircuitChange) -> Circuit:
    """Change what is given."""
    changes = body.given()
    if "cap_windows" in changes:
        changes["cap_windows"] = tuple(each.window() for each in body.cap_windows)
    if body.meter is not None:
        changes["meter"] = body.meter.meter()
    return await central.sites.update_circuit(circuit_id, **changes)


@router.delete("/{circuit_id}", status_code=204)
async def delete_circuit(central: TheCentral, circuit_id: Id) -> None:
    """Remove a circuit that nothing hangs on."""
    await central.sites.delete_circuit(circuit_id)
