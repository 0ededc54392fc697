"""`/v1/sites/{id}/power`: the supply live; and what the building's meters push."""

from datetime import UTC, datetime
from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import LARGEST_AMPS, Id, Input, Instant, Output
from csms.errors import Conflict, InvalidInput
from csms.metering.building import LineReading, per_line
from csms.power.installation import Line
from csms.power.setup_service import SetUp
from csms.power.sharing.demand import BoundKind
from csms.power.steering.picture import BayShown, BayState, SiteShown
from csms.power.steering.remarks import remarks

router = APIRouter(tags=["power"], route_class=GuardedRoute)

LineName = Literal["L1", "L2", "L3"]


class AskedCap(Output):
    """Less power for some hours, asked for from outside."""

    cap_w: float
    until: Instant
    reason: str


class CircuitLive(Output):
    """A per line: the limit, the building's load, what cars draw, and what they may by our offers."""

    id: str
    limit_a: dict[Line, float]
    base_a: dict[Line, float]
    drawn_a: dict[Line, float]
    promised_a: dict[Line, float]
    meter_fresh: bool | None = Field(description="null: no meter here")
    cap_w: float | None = Field(description="The lowest cap in force, over all lines")
    asked: AskedCap | None = Field(description="The cap from outside that is in force")


class BoundOut(Output):
    """What kept an offer from being higher, or why there is none."""

    kind: BoundKind
    circuit: str | None
    line: Line | None


class BayLive(Output):
    """One EVSE: its offer, and the reason of it. `waiting_since`: it gets nothing since then."""

    station_id: str
    evse: int
    state: BayState
    offer_a: float | None
    confirmed: bool
    measured_a: float | None
    lines: list[Line]
    why: BoundOut | None
    waiting_since: Instant | None
    safe_in_silence: bool
    remarks: list[str] = Field(description="What people should know of it, in words")


class PowerOut(Output):
    """A site's supply now. `complete` false: just restarted, nothing is raised before all is known."""

    site_id: str
    at: Instant
    complete: bool
    circuits: list[CircuitLive]
    bays: list[BayLive]


class ReadingIn(Input):
    """What a building meter shows, in A; a line left out was not measured.

    The circuit's `meter.counts` says whether this is the base load or the total with our cars.
    """

    current_a: dict[LineName, Annotated[float, Field(ge=-LARGEST_AMPS, le=LARGEST_AMPS)]] = Field(
        min_length=1
    )
    at: Instant | None = Field(default=None, description="Left out: now")


@router.get("/sites/{site_id}/power", response_model=PowerOut)
async def picture(central: TheCentral, site_id: Id) -> PowerOut:
    """Each line's current against its limit, and what each bay is offered and why."""
    site = await central.sites.get_site(site_id)
    shown: SiteShown | None = central.power.picture(site_id)
    if shown is None:
        raise Conflict(f"site {site.id} is not active, so no power is shared there")
    return PowerOut(
        site_id=site_id,
        at=_instant(shown.at_s),
        complete=shown.picture_full,
        circuits=[CircuitLive.model_validate(circuit) for circuit in shown.circuits],
        bays=[_bay(bay, central.power.set_up(bay.evse.station_id)) for bay in shown.bays],
    )


@router.post("/circuits/{circuit_id}/readings", status_code=202)
async def push_reading(central: TheCentral, circuit_id: Id, body: ReadingIn) -> None:
    """Tell what a building meter shows. Repeat it at least every `meter.period_s` of the circuit."""
    circuit = await central.sites.get_circuit(circuit_id)
    if circuit.meter is None:
        raise Conflict(f"circuit {circuit.name} has no meter; give it one first")
    for line, limit_a in zip(Line, circuit.limit_a, strict=True):
        if line.value in body.current_a and limit_a == 0:
            raise InvalidInput(f"current_a.{line}", f"circuit {circuit.name} has no {line}")
    current_a = per_line({str(line): value for line, value in body.current_a.items()})
    await central.meters.push(circuit, LineReading(body.at or central.clock.now(), current_a))


def _bay(bay: BayShown, set_up: SetUp | None) -> BayLive:
    since = bay.waiting_since_s
    return BayLive(
        station_id=bay.evse.station_id,
        evse=bay.evse.evse_id,
        state=bay.state,
        offer_a=bay.offer_a,
        confirmed=bay.confirmed,
        measured_a=bay.measured_a,
        lines=list(bay.lines),
        why=None if bay.why is None else BoundOut.model_validate(bay.why),
        waiting_since=None if since is None else _instant(since),
        safe_in_silence=bay.safe_in_silence,
        remarks=[*remarks(bay), *([set_up.problem] if set_up and set_up.problem else [])],
    )


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)
