"""`/v1/stations/{id}/logs`: ask a charger for its diagnostics or its security log, and fetch them."""

from fastapi import APIRouter
from fastapi.responses import FileResponse
from pydantic import Field

from api import errors
from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Number, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.errors import InvalidInput, NotFound
from csms.firmware.repository import StationLog
from csms.stations.words.firmware import LogKind
from csms.store.paging import Page

router = APIRouter(
    prefix="/stations/{station_id}/logs",
    tags=["firmware"],
    route_class=GuardedRoute,
    responses=errors.described(504),
)
cursors = Cursors("logs", counted=True)


class LogAsked(Input):
    """`from_at`, `to_at`: of what time, left out: all that it has."""

    kind: LogKind = Field(default=LogKind.DIAGNOSTICS, strict=False)
    from_at: Instant | None = None
    to_at: Instant | None = None


class LogOut(Output):
    """`state`: asked, refused, uploading, received or failed; `detail` says why."""

    id: int
    kind: str
    state: str
    detail: str
    file_name: str
    size_bytes: int
    sha256: str
    asked_at: Instant
    asked_by: str
    received_at: Instant | None


@router.get("", response_model=PageOut[LogOut])
async def list_logs(
    central: TheCentral, station_id: Id, limit: Limit = 50, after: After = None
) -> Page[StationLog]:
    """What it was asked for, the latest first."""
    page = await central.firmware.logs.list(station_id, after=cursors.read(after), limit=limit)
    return cursors.write(page)


@router.post("", status_code=202, response_model=LogOut)
async def ask(central: TheCentral, station_id: Id, body: LogAsked, principal: Asking) -> StationLog:
    """Ask for one. The charger sends it when it can; look again."""
    if body.from_at and body.to_at and body.from_at >= body.to_at:
        raise InvalidInput("to_at", "must be later than from_at")
    return await central.firmware.logs.ask(
        station_id, body.kind, from_at=body.from_at, to_at=body.to_at, by=str(principal)
    )


@router.get(
    "/{log_id}/file",
    response_class=FileResponse,
    responses={200: {"content": {"application/octet-stream": {}}}},
)
async def fetch(central: TheCentral, station_id: Id, log_id: Number) -> FileResponse:
    """The file, as the charger sent it."""
    log = await central.firmware.logs.get(log_id)
    if log.station_id != station_id:
        raise NotFound("log", log_id)
    path = await central.firmware.logs.file(log_id)
    name = "".join(c for c in log.file_name if c.isalnum() or c in "._-") or f"{station_id}-{log_id}.log"
    return FileResponse(path, media_type="application/octet-stream", filename=name)
