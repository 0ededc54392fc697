"""`/v1/stations/{id}/quarantine/{frame}`: have a message that could not be read, read once more.

The list is `/v1/stations/{id}/quarantine`.
"""

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Number, Output
from csms.gateway.replay_service import Outcome, Replayed

LONGEST_FRAME = 4 * 1024 * 1024

router = APIRouter(prefix="/stations/{station_id}/quarantine", tags=["stations"], route_class=GuardedRoute)


class ReplayIn(Input):
    """`frame`: the message put right by hand; left out, it is read as it came."""

    frame: Annotated[str, Field(min_length=1, max_length=LONGEST_FRAME)] | None = None


class ReplayOut(Output):
    """`detail`: why not, or what was odd about it. `answer`: what the station would have been told."""

    outcome: Outcome
    action: str
    detail: str
    answer: dict[str, Any] | None


@router.post("/{frame_id}/replay", response_model=ReplayOut)
async def replay(
    central: TheCentral, station_id: Id, frame_id: Number, body: ReplayIn | None = None
) -> Replayed:
    """Take it as a message that the station had stored: heard when it came, answered to nobody.

    Only what tells of something: a message that asks (e.g. Authorize) is refused.
    """
    return await central.replay.replay(station_id, frame_id, body.frame if body else None)


@router.delete("/{frame_id}", status_code=204)
async def delete(central: TheCentral, station_id: Id, frame_id: Number) -> None:
    """Throw a message away."""
    await central.quarantine.delete(station_id, frame_id)
