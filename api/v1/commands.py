"""`/v1/stations/{id}/commands`: ask something of a charger, and read what was asked.

The commonest have routes of their own; every other is a POST to the resource itself. The answer is
what the station said: a refusal is a result (`status`), not a problem. A station
that is not connected is a 409, one that does not answer in time a 504.
"""

import secrets
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import Field

from api import errors
from api.auth import Asking, GuardedRoute
from api.command_bodies import AnyCommand, build
from api.deps import Central, TheCentral
from api.fields import LARGEST_ID, Id, Input, Instant, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.access.people.principal import Principal
from csms.errors import Conflict, InvalidInput, NotFound
from csms.stations.commands import (
    ClearProfiles,
    Command,
    CommandResult,
    CommandStatus,
    Reset,
    SetAvailability,
    SetProfile,
    StartCharging,
    StopCharging,
    Trigger,
    TriggerKind,
    Unlock,
)
from csms.stations.encoding import plain
from csms.stations.journal.lifecycle import CommandRecord, CommandState
from csms.stations.model import TokenRef
from csms.stations.words.limits import SendBalancingSignal, UpdateSchedule, UsePriority
from csms.store.paging import Page

LIMITING = (SetProfile, ClearProfiles, UpdateSchedule, UsePriority, SendBalancingSignal)
"""Commands that change what a station may draw."""

router = APIRouter(
    prefix="/stations/{station_id}/commands",
    tags=["commands"],
    route_class=GuardedRoute,
    responses=errors.described(504),
)
cursors = Cursors("commands")

EvseNumber = Annotated[int, Field(ge=1, le=1000)]


class Start(Input):
    """Begin to charge for a token of ours, in any spelling. `evse` null: the station chooses."""

    token: str = Field(min_length=1, max_length=255)
    evse: EvseNumber | None = None


class Stop(Input):
    """End a session that runs at the station."""

    session_id: int = Field(ge=1, le=LARGEST_ID)


class ResetIn(Input):
    """`hard`: at once, ending sessions; else when they have ended. `evse` needs OCPP 2.x."""

    hard: bool = False
    evse: EvseNumber | None = None


class UnlockIn(Input):
    """Let go of a plug."""

    evse: EvseNumber
    connector: EvseNumber = 1


class Availability(Input):
    """Take an EVSE (null: the whole station) out of use, or back."""

    operative: bool
    evse: EvseNumber | None = None


class TriggerIn(Input):
    """Have the station send something now."""

    kind: TriggerKind = Field(strict=False)
    evse: EvseNumber | None = None


class ResultOut(Output):
    """`accepted` often means only "will try". `detail`: the station's own words."""

    status: CommandStatus
    detail: str
    data: Any


class CommandOut(Output):
    """A command in the journal; `asked_by` empty: Phaseyard itself."""

    id: str
    station_id: str
    kind: str
    body: Any
    asked_by: str
    asked_at: Instant
    state: CommandState
    status: CommandStatus | None
    detail: str
    data: Any
    answered_at: Instant | None


@router.post("/start", response_model=ResultOut)
async def start(central: TheCentral, asking: Asking, station_id: Id, body: Start) -> dict[str, Any]:
    """Begin to charge. Whether the token may is judged when the station reports the start."""
    await central.stations.get(station_id)
    token = await central.tokens.find(body.token)
    if token is None:
        raise InvalidInput("token", "no member has this token; create or adopt it first")
    command = StartCharging(
        evse=body.evse,
        token=TokenRef(token.text, token.kind),
        remote_start_id=1 + secrets.randbelow(2**31 - 1),
    )
    return await _ask(central, asking, station_id, command)


@router.post("/stop", response_model=ResultOut)
async def stop(central: TheCentral, asking: Asking, station_id: Id, body: Stop) -> dict[str, Any]:
    """End a session."""
    await central.stations.get(station_id)
    session = await central.sessions.get(body.session_id)
    if session.station_id != station_id:
        raise InvalidInput("session_id", f"session {session.id} is not at this station")
    if not session.open:
        raise Conflict(f"session {session.id} has ended")
    return await _ask(central, asking, station_id, StopCharging(session.transaction_id or str(session.id)))


@router.post("/reset", response_model=ResultOut)
async def reset(central: TheCentral, asking: Asking, station_id: Id, body: ResetIn) -> dict[str, Any]:
    """Restart the station."""
    return await _ask(central, asking, station_id, Reset(hard=body.hard, evse=body.evse))


@router.post("/unlock", response_model=ResultOut)
async def unlock(central: TheCentral, asking: Asking, station_id: Id, body: UnlockIn) -> dict[str, Any]:
    """Let go of a plug that is stuck."""
    return await _ask(central, asking, station_id, Unlock(body.evse, body.connector))


@router.post("/availability", response_model=ResultOut)
async def availability(
    central: TheCentral, asking: Asking, station_id: Id, body: Availability
) -> dict[str, Any]:
    """Take out of use, or back. `scheduled`: when the running session has ended."""
    return await _ask(central, asking, station_id, SetAvailability(body.operative, body.evse))


@router.post("/trigger", response_model=ResultOut)
async def trigger(central: TheCentral, asking: Asking, station_id: Id, body: TriggerIn) -> dict[str, Any]:
    """Have the station send something now."""
    return await _ask(central, asking, station_id, Trigger(body.kind, body.evse))


async def give(central: TheCentral, asking: Asking, station_id: Id, body: Any) -> dict[str, Any]:
    """Any command but a start and a stop; `command` says which, the rest is its own.

    What the station's version cannot carry comes back as `unsupported`, with the field in the way.
    Limits are refused while the station hangs on a circuit: there the sharing of the supply sets them.
    """
    station = await central.stations.get(station_id)
    command = build(body)
    if isinstance(command, LIMITING) and station.circuit_id is not None:
        raise Conflict(
            f"the sharing of the supply sets the limits of station {station_id}; "
            "take it off its circuit (circuit_id null) before you set any by hand"
        )
    return await _ask(central, asking, station_id, command)


give.__annotations__["body"] = AnyCommand
router.add_api_route("", give, methods=["POST"], response_model=ResultOut)


@router.get("", response_model=PageOut[CommandOut])
async def journal(
    central: TheCentral, station_id: Id, limit: Limit = 50, after: After = None
) -> Page[CommandRecord]:
    """What was asked of the station, the latest first."""
    await central.stations.get(station_id)
    return cursors.write(
        await central.journal.list_commands(station_id, after=cursors.read(after), limit=limit)
    )


@router.get("/{command_id}", response_model=CommandOut)
async def get_command(central: TheCentral, station_id: Id, command_id: Id) -> CommandRecord:
    """One command and what came of it."""
    record: CommandRecord = await central.journal.get_command(command_id)
    if record.station_id != station_id:
        raise NotFound("command", command_id)
    return record


async def _ask(central: Central, asking: Principal, station_id: str, command: Command) -> dict[str, Any]:
    await central.stations.get(station_id)
    result: CommandResult = await central.commands.ask(station_id, command, asked_by=str(asking))
    return {"status": result.status, "detail": result.detail, "data": plain(result.data)}
