"""`/v1/circuits/{id}/caps`: less power for some hours, as a grid company or an energy manager asks."""

from typing import Annotated, Any

from fastapi import APIRouter, Response
from pydantic import Field

from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Number, Output, Text
from api.pagination import After, Cursors, Limit, PageOut
from csms.power.signals.repository import KeptSignal
from csms.store.paging import Page

router = APIRouter(prefix="/circuits", tags=["circuits"], route_class=GuardedRoute)
cursors = Cursors("caps", counted=True)

Watts = Annotated[int, Field(ge=0, le=1_000_000_000)]


class NewCap(Input):
    """At most `cap_w` through the circuit, over all lines and the building's load there included, until
    before `until`. For the chargers alone name the circuit that feeds only them."""

    cap_w: Watts
    since: Instant | None = Field(default=None, description="Left out: now")
    until: Instant
    reason: Text | None = Field(default=None, examples=["grid operator: low voltage in the street"])


class CapOut(Output):
    """A cap from outside. `active`: it is in force now."""

    id: int
    circuit_id: str
    cap_w: int
    since: Instant
    until: Instant
    reason: str
    created_at: Instant
    created_by: str
    withdrawn_at: Instant | None
    active: bool


@router.get("/{circuit_id}/caps", response_model=PageOut[CapOut])
async def list_caps(
    central: TheCentral, circuit_id: Id, limit: Limit = 50, after: After = None
) -> Page[dict[str, Any]]:
    """All caps that the circuit ever had from outside, the newest first."""
    found = await central.power.caps.listed(circuit_id, after=cursors.read(after), limit=limit)
    now = central.clock.now()
    items = tuple(_out(each, each.in_force(now)) for each in found.items)
    return cursors.write(Page(items, found.next))


@router.post("/{circuit_id}/caps", status_code=201, response_model=CapOut)
async def ask_cap(
    central: TheCentral, circuit_id: Id, body: NewCap, principal: Asking, response: Response
) -> dict[str, Any]:
    """Ask for less power. It is kept over a restart and ends by itself; of several the lowest counts."""
    made = await central.power.caps.ask(
        circuit_id,
        cap_w=body.cap_w,
        since=body.since,
        until=body.until,
        reason=body.reason or "",
        by=str(principal),
    )
    response.headers["Location"] = f"/v1/circuits/{circuit_id}/caps/{made.id}"
    return _out(made, made.in_force(central.clock.now()))


@router.delete("/{circuit_id}/caps/{cap_id}", status_code=204)
async def withdraw_cap(central: TheCentral, circuit_id: Id, cap_id: Number) -> None:
    """Take a cap back; nothing happens to one that is over."""
    await central.power.caps.withdraw(circuit_id, cap_id)


def _out(signal: KeptSignal, active: bool) -> dict[str, Any]:
    return {
        "id": signal.id,
        "circuit_id": signal.circuit_id,
        "cap_w": signal.cap_w,
        "since": signal.from_at,
        "until": signal.until_at,
        "reason": signal.reason,
        "created_at": signal.created_at,
        "created_by": signal.created_by,
        "withdrawn_at": signal.withdrawn_at,
        "active": active,
    }
