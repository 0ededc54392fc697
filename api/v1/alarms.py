"""`/v1/alarms`: what a person has to see to, and what came of telling people."""

from typing import Annotated, Any

from fastapi import APIRouter, Query

from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Ident, Input, Instant, Note, Number, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.alarms.alarm import Alarm, AlarmState, Severity
from csms.alarms.deliveries import Delivery, DeliveryState, Occasion
from csms.alarms.kinds import KINDS
from csms.alarms.repository import AlarmFilter
from csms.alarms.routes import ChannelKind
from csms.errors import InvalidInput
from csms.store.paging import Page

router = APIRouter(prefix="/alarms", tags=["alarms"], route_class=GuardedRoute)
cursors = Cursors("alarms", counted=True)
delivery_cursors = Cursors("deliveries", counted=True)


class Taken(Input):
    """`note`: what is being done about it."""

    note: Note = ""


class AlarmOut(Output):
    """`times`: how often it was told. `detail`: what was told with it."""

    id: int
    kind: str
    title: str
    what_to_do: str
    severity: Severity
    state: AlarmState
    site_id: str | None
    station_id: str | None
    evse: int | None
    circuit_id: str | None
    detail: dict[str, Any]
    began_at: Instant
    raised_at: Instant | None
    last_at: Instant
    times: int
    acknowledged_at: Instant | None
    acknowledged_by: str
    note: str
    cleared_at: Instant | None
    cleared_by: str


class DeliveryOut(Output):
    """A message about an alarm. `route_id` null: to a member whose car is concerned."""

    id: int
    alarm_id: int
    route_id: str | None
    channel: ChannelKind
    address: str
    occasion: Occasion
    state: DeliveryState
    attempts: int
    next_at: Instant
    error: str
    sent_at: Instant | None


def out(alarm: Alarm) -> AlarmOut:
    """As REST shows it, with the words of its kind."""
    kind = KINDS[alarm.kind]
    told = {name: getattr(alarm, name) for name in AlarmOut.model_fields if hasattr(alarm, name)}
    return AlarmOut(**told | {"detail": dict(alarm.detail)}, title=kind.title, what_to_do=kind.what_to_do)


@router.get("", response_model=PageOut[AlarmOut])
async def list_alarms(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    station: Annotated[Ident | None, Query()] = None,
    kind: Annotated[str | None, Query(max_length=40)] = None,
    lowest: Annotated[Severity | None, Query(description="Left out: of any weight")] = None,
    standing: Annotated[bool | None, Query(description="true: not over yet")] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[AlarmOut]:
    """The newest first."""
    if kind is not None and kind not in KINDS:
        raise InvalidInput("kind", f"there is no such alarm; give one of {', '.join(sorted(KINDS))}")
    wanted = AlarmFilter(site_id=site, station_id=station, kind=kind, lowest=lowest, standing=standing)
    page = await central.alarms.list(wanted, after=cursors.read(after), limit=limit)
    return cursors.write(Page(tuple(out(alarm) for alarm in page.items), page.next))


@router.get("/{alarm_id}")
async def get_alarm(central: TheCentral, alarm_id: Number) -> AlarmOut:
    """One alarm, standing or over."""
    return out(await central.alarms.get(alarm_id))


@router.post("/{alarm_id}/acknowledge")
async def acknowledge(central: TheCentral, alarm_id: Number, body: Taken, principal: Asking) -> AlarmOut:
    """Somebody sees to it: nobody further up is told. Conflict when somebody does already, or it is over."""
    return out(await central.alarms.acknowledge(alarm_id, by=str(principal), note=body.note))


@router.post("/{alarm_id}/clear")
async def clear(central: TheCentral, alarm_id: Number, principal: Asking) -> AlarmOut:
    """Say that it is over. What still holds is raised again when it is told again."""
    return out(await central.alarms.clear(alarm_id, by=str(principal)))


@router.get("/{alarm_id}/deliveries", response_model=PageOut[DeliveryOut])
async def deliveries(
    central: TheCentral, alarm_id: Number, limit: Limit = 50, after: After = None
) -> Page[Delivery]:
    """Who was told of it, who is yet to be, and what went wrong; the newest first."""
    await central.alarms.get(alarm_id)
    page = await central.alarm_routes.deliveries(alarm_id, after=delivery_cursors.read(after), limit=limit)
    return delivery_cursors.write(page)
