"""`/v1/stations`: chargers, whether connected or not."""

from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Amps, Id, Ident, Input, Instant, Note, Output, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.stations.model import EvseStatus, Registration, VariableValue
from csms.stations.quarantine.repository import QuarantinedFrame
from csms.stations.record import LONGEST_SERIAL, MOST_EVSES, Evse, Station
from csms.store.paging import Page

router = APIRouter(prefix="/stations", tags=["stations"], route_class=GuardedRoute)
cursors = Cursors("stations")
variable_cursors = Cursors("variables")
quarantine_cursors = Cursors("quarantine", counted=True)

LineName = Literal["L1", "L2", "L3"]
Wiring = Annotated[
    list[LineName],
    Field(min_length=1, max_length=3, description="The supply's line that each of its own lines hangs on"),
]
Evses = Annotated[int, Field(ge=1, le=MOST_EVSES, description="How many EVSEs it has")]
Serial = Annotated[
    Note, Field(max_length=LONGEST_SERIAL, description="Of the charger that is to come to this place")
]
Label = Annotated[Note, Field(max_length=120)]


def _straight() -> list[LineName]:
    return ["L1", "L2", "L3"]


class NewStation(Input):
    """`id` is the identity in the URL it connects to."""

    id: Ident = Field(examples=["garage-01"])
    name: Label = ""
    site_id: Ident | None = None
    circuit_id: Ident | None = None
    evses: Evses = 1
    wiring: Wiring = Field(default_factory=_straight)
    max_current_a: Amps = 32.0
    step_a: float = Field(default=1.0, description="Steps in which it takes limits: 1 or 0.1")
    fallback_a: Amps = Field(default=0.0, description="What it may draw when it cannot hear us")
    can_choose_line: bool = False
    keeps_profiles: bool = True
    expected_serial: Serial = ""


class StationChange(Input):
    """What is left out stays."""

    name: Label = Field(default_factory=absent)
    registration: Registration = Field(default_factory=absent, strict=False)
    site_id: Ident | None = None
    circuit_id: Ident | None = None
    evses: Evses = Field(default_factory=absent)
    wiring: Wiring = Field(default_factory=absent)
    max_current_a: Amps = Field(default_factory=absent)
    step_a: float = Field(default_factory=absent)
    fallback_a: Amps = Field(default_factory=absent)
    can_choose_line: bool = Field(default_factory=absent)
    keeps_profiles: bool = Field(default_factory=absent)
    expected_serial: Serial = Field(default_factory=absent)


class StationOut(Output):
    """A station; what it told at its last boot, and whether it is connected."""

    id: str
    name: str
    site_id: str | None
    circuit_id: str | None
    registration: Registration
    wiring: tuple[str, ...]
    max_current_a: float
    step_a: float
    fallback_a: float
    can_choose_line: bool
    keeps_profiles: bool
    expected_serial: str
    has_key: bool
    vendor: str
    model: str
    serial: str
    firmware: str
    protocol: str
    booted_at: Instant | None
    connected: bool
    presence_at: Instant | None
    last_seen_at: Instant | None
    created_at: Instant


class EvseOut(Output):
    """Where one car can charge."""

    number: int
    connector: int
    confirmed: bool
    status: EvseStatus
    error: str
    info: str
    status_at: Instant | None


class EvsesOut(Output):
    """All EVSEs of a station."""

    items: list[EvseOut]


class NewKey(Input):
    """Left out: we make one of 160 random bits."""

    key: str | None = Field(default=None, max_length=80)


class KeyOut(Output):
    """The key, this once: it is not kept in the clear."""

    key: str


class VariableOut(Output):
    """What a station told of one of its variables; `value` null: it cannot be read."""

    path: str
    value: str | None
    readonly: bool


class FrameOut(Output):
    """A message that could not be read; bytes that are no UTF-8 are written as \\xNN."""

    id: int
    at: Instant
    reason: str
    frame: str
    replayed_at: Instant | None
    outcome: str | None = Field(description="What came of reading it once more")


@router.get("", response_model=PageOut[StationOut])
async def list_stations(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Station]:
    """Stations of a site; without one all, also those that wait for a place."""
    return cursors.write(await central.stations.list(site, after=cursors.read(after), limit=limit))


@router.post("", status_code=201, response_model=StationOut)
async def create_station(central: TheCentral, body: NewStation, response: Response) -> Station:
    """A new station, accepted from its first boot on."""
    station = await central.stations.create(
        id=body.id,
        name=body.name,
        site_id=body.site_id,
        circuit_id=body.circuit_id,
        evses=body.evses,
        wiring=tuple(body.wiring),
        max_current_a=body.max_current_a,
        step_a=body.step_a,
        fallback_a=body.fallback_a,
        can_choose_line=body.can_choose_line,
        keeps_profiles=body.keeps_profiles,
        expected_serial=body.expected_serial,
    )
    response.headers["Location"] = f"/v1/stations/{quote(station.id, safe='')}"
    return station


@router.get("/{station_id}", response_model=StationOut)
async def get_station(central: TheCentral, station_id: Id) -> Station:
    """One station."""
    return await central.stations.get(station_id)


@router.patch("/{station_id}", response_model=StationOut)
async def change_station(central: TheCentral, station_id: Id, body: StationChange) -> Station:
    """Change what is given."""
    changes = body.given()
    if "wiring" in changes:
        changes["wiring"] = tuple(changes["wiring"])
    return await central.stations.update(station_id, **changes)


@router.delete("/{station_id}", status_code=204)
async def delete_station(central: TheCentral, station_id: Id) -> None:
    """Forget a station that never had a session; reject the registration of any other."""
    await central.stations.delete(station_id)


@router.post("/{station_id}/key", response_model=KeyOut)
async def set_key(central: TheCentral, station_id: Id, body: NewKey | None = None) -> dict[str, str]:
    """Give the station a key for its HTTP Basic password. The answer is the only place to read it."""
    return {"key": await central.stations.set_key(station_id, body.key if body else None)}


@router.delete("/{station_id}/key", status_code=204)
async def remove_key(central: TheCentral, station_id: Id) -> None:
    """Let the station in without a key, as a trusted network may allow."""
    await central.stations.remove_key(station_id)


@router.get("/{station_id}/evses", response_model=EvsesOut)
async def evses(central: TheCentral, station_id: Id) -> dict[str, tuple[Evse, ...]]:
    """The station's EVSEs, by number."""
    return {"items": await central.stations.evses(station_id)}


@router.get("/{station_id}/variables", response_model=PageOut[VariableOut])
async def variables(
    central: TheCentral, station_id: Id, limit: Limit = 50, after: After = None
) -> Page[VariableValue]:
    """What the station told of its variables (OCPP 1.6: configuration keys), by path."""
    return variable_cursors.write(
        await central.stations.list_variables(station_id, after=variable_cursors.read(after), limit=limit)
    )


@router.get("/{station_id}/quarantine", response_model=PageOut[FrameOut])
async def quarantine(
    central: TheCentral, station_id: Id, limit: Limit = 50, after: After = None
) -> Page[FrameOut]:
    """Messages of the station that could not be read, the latest first."""
    await central.stations.get(station_id)
    page: Page[QuarantinedFrame] = await central.quarantine.list_frames(
        station_id, after=quarantine_cursors.read(after), limit=limit
    )
    shown = tuple(
        FrameOut(
            id=each.id,
            at=each.at,
            reason=each.reason,
            frame=_text(each.frame),
            replayed_at=each.replayed_at,
            outcome=each.outcome,
        )
        for each in page.items
    )
    return quarantine_cursors.write(Page(shown, page.next))


def _text(frame: bytes) -> str:
    return frame.decode("utf-8", "backslashreplace")
