"""`/v1/stations/{id}/reports`: what a charger told that nobody else owns, as it was told."""

from typing import Annotated, Any

from fastapi import APIRouter, Query

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import LARGEST_ID, Id, Instant, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.errors import InvalidInput
from csms.stations.told.kinds import KINDS, Told
from csms.store.paging import Page

router = APIRouter(prefix="/stations/{station_id}/reports", tags=["stations"], route_class=GuardedRoute)
cursors = Cursors("station-reports", counted=True)


class StationReportOut(Output):
    """`at`: its arrival. `body`: its parts by our names; times in it are the station's own."""

    id: int
    kind: str
    at: Instant
    evse: int | None
    request_id: int | None
    body: Any


@router.get("", response_model=PageOut[StationReportOut])
async def station_reports(
    central: TheCentral,
    station_id: Id,
    kind: Annotated[
        str | None, Query(description=", ".join(KINDS), json_schema_extra={"enum": list(KINDS)})
    ] = None,
    request_id: Annotated[int | None, Query(ge=-LARGEST_ID, le=LARGEST_ID)] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Told]:
    """The latest first: security events, states of firmware and logs, monitors, displays, limits, …"""
    if kind is not None and kind not in KINDS:
        raise InvalidInput("kind", f"there is no kind {kind!r:.60}; one of {', '.join(KINDS)}")
    return cursors.write(
        await central.told.list_told(
            station_id, kind, request_id=request_id, after=cursors.read(after), limit=limit
        )
    )
