"""`/v1/sessions`: one charge each, plug-in to plug-out, with its samples, pauses and cost."""

from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import Field

from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Ident, Instant, Number, Output, PerLine
from api.pagination import After, Cursors, Limit, PageOut
from csms.errors import InvalidInput
from csms.metering.stored import StoredReading
from csms.money import Currency, Money
from csms.sessions.pauses import Pause
from csms.sessions.session import Session, SessionFilter, State
from csms.stations.model import ChargingState, ReadingContext, StopReason
from csms.store.paging import Page

router = APIRouter(prefix="/sessions", tags=["sessions"], route_class=GuardedRoute)
cursors = Cursors("sessions", counted=True)
sample_cursors = Cursors("samples", counted=True)


class SessionOut(Output):
    """A session. `energy_wh` is what counts; the registers are as told. Amounts are decimal text.

    `marks` maps what was odd to what there is to say of it; look at them before you bill.
    """

    id: int
    site_id: str | None
    station_id: str
    evse: int | None
    connector: int | None
    transaction_id: str | None
    state: State
    charging: ChargingState
    open: bool
    token: str
    token_id: str | None
    member_id: str | None
    verdict: str
    verdict_reason: str
    started_at: Instant
    ended_at: Instant | None
    stop_reason: StopReason | None
    register_start_wh: int | None
    register_last_wh: int | None
    register_stop_wh: int | None
    energy_wh: int
    marks: dict[str, Any]
    tariff_id: str | None
    currency: str | None
    cost_excl: str | None = Field(examples=["12.30"])
    cost_incl: str | None = Field(description="null: no price, or the tariff does not tell the VAT")
    cost_lines: Any


class SampleOut(Output):
    """What the station's meter showed at one instant; per line of the station, null: not told."""

    id: int
    at: Instant
    context: ReadingContext
    register_wh: int | None
    power_w: float | None
    current_a: PerLine
    voltage_v: PerLine
    line_power_w: PerLine
    offered_a: float | None
    temperature_c: float | None
    soc_percent: float | None
    signed: str | None = Field(description="Signed meter data as received, the first of it")


class PauseOut(Output):
    """From `from_at` to `to_at` (null: still). `by_us`: the sharing of the supply held the car."""

    from_at: Instant
    to_at: Instant | None
    by_us: bool


class PausesOut(Output):
    """All pauses of a session, in order."""

    items: list[PauseOut]


@router.get("", response_model=PageOut[SessionOut])
async def list_sessions(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    station: Annotated[Ident | None, Query()] = None,
    member: Annotated[Ident | None, Query()] = None,
    token: Annotated[Ident | None, Query(description="Its id")] = None,
    started_from: Annotated[Instant | None, Query(description="Inclusive")] = None,
    started_to: Annotated[Instant | None, Query(description="Exclusive")] = None,
    open: Annotated[bool | None, Query(description="Whether it runs")] = None,
    priced: Annotated[bool | None, Query(description="Whether it has a cost")] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[SessionOut]:
    """Sessions that fit all that is given, the newest first."""
    if started_from is not None and started_to is not None and started_to < started_from:
        raise InvalidInput("started_to", "is before started_from")
    wanted = SessionFilter(
        site_id=site,
        station_id=station,
        member_id=member,
        token_id=token,
        from_at=started_from,
        to_at=started_to,
        open=open,
        priced=priced,
    )
    page = cursors.write(await central.sessions.list(wanted, after=cursors.read(after), limit=limit))
    return Page(tuple(_shown(session) for session in page.items), page.next)


@router.get("/{session_id}", response_model=SessionOut)
async def get_session(central: TheCentral, session_id: Number) -> SessionOut:
    """One session."""
    return _shown(await central.sessions.get(session_id))


@router.get("/{session_id}/samples", response_model=PageOut[SampleOut])
async def samples(
    central: TheCentral, session_id: Number, limit: Limit = 100, after: After = None
) -> Page[SampleOut]:
    """What the meter showed during the session, in order of arrival."""
    page = sample_cursors.write(
        await central.sessions.samples(session_id, after=sample_cursors.read(after), limit=limit)
    )
    return Page(tuple(_sample(stored) for stored in page.items), page.next)


@router.get("/{session_id}/pauses", response_model=PausesOut)
async def pauses(central: TheCentral, session_id: Number) -> dict[str, tuple[Pause, ...]]:
    """When the car drew nothing, and whether it was we who held it."""
    return {"items": await central.sessions.pauses(session_id)}


@router.post("/{session_id}/close", response_model=SessionOut)
async def close(central: TheCentral, asking: Asking, session_id: Number) -> SessionOut:
    """Take a session to be over whose stop will not come. A stop that comes after all counts."""
    return _shown(await central.sessions.close(session_id, str(asking)))


def _shown(session: Session) -> SessionOut:
    return SessionOut(
        id=session.id,
        site_id=session.site_id,
        station_id=session.station_id,
        evse=session.evse,
        connector=session.connector,
        transaction_id=session.transaction_id,
        state=session.state,
        charging=session.charging,
        open=session.open,
        token=session.token_text,
        token_id=session.token_id,
        member_id=session.member_id,
        verdict=session.verdict,
        verdict_reason=session.verdict_reason,
        started_at=session.started_at,
        ended_at=session.ended_at,
        stop_reason=session.stop_reason,
        register_start_wh=session.register_start_wh,
        register_last_wh=session.register_last_wh,
        register_stop_wh=session.register_stop_wh,
        energy_wh=session.energy_wh,
        marks=dict(session.marks),
        tariff_id=session.tariff_id,
        currency=session.currency,
        cost_excl=_amount(session.cost_excl_minor, session.currency),
        cost_incl=_amount(session.cost_incl_minor, session.currency),
        cost_lines=session.cost_lines,
    )


def _amount(minor: int | None, currency: str | None) -> str | None:
    if minor is None or currency is None:
        return None
    return f"{Money(minor, Currency(currency)).to_decimal():f}"


def _sample(stored: StoredReading) -> SampleOut:
    reading = stored.reading
    return SampleOut(
        id=stored.id,
        at=reading.at,
        context=reading.context,
        register_wh=reading.register_wh,
        power_w=reading.power_w,
        current_a=reading.current_a,
        voltage_v=reading.voltage_v,
        line_power_w=reading.line_power_w,
        offered_a=reading.offered_a,
        temperature_c=reading.temperature_c,
        soc_percent=reading.soc_percent,
        signed=reading.signed[0].received if reading.signed else None,
    )
