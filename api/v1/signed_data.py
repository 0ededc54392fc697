"""`/v1/sessions/N/signed` and `/v1/sessions/N/cdr`: what the meter vouches for, and its record to hand on."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Instant, Number, Output
from api.ocpi.cdr import CdrFacts, write_cdr
from csms.errors import Conflict, NotFound
from csms.metering.signed.proof import Result
from csms.metering.signed.stored import StoredRecord
from csms.metering.signed.verdict import Verdict
from csms.tariffs.document import dump_json
from csms.tariffs.writing import exchanged

router = APIRouter(prefix="/sessions", tags=["signed meter data"], route_class=GuardedRoute)


class RecordOut(Output):
    """One signed record: as received, what it holds, and the verdict with its reasons."""

    id: int
    at: Instant
    context: str
    evse: int | None
    encoding: str
    received: str = Field(description="Verbatim")
    data: str = Field(description="The record itself, taken out of hex, base64 or JSON")
    serial: str | None
    verdict: Verdict
    reasons: list[str]
    key_id: str | None = Field(description="The confirmed key that the signature fits")
    judged_at: Instant | None


class SignedOut(Output):
    """What a session's signed records prove together."""

    session_id: int
    result: Result
    reasons: list[str]
    energy_wh: str | None = Field(description="Signed energy from begin to end, decimal text")
    serial: str = Field(description="The meter's, when it is one")
    records: list[RecordOut]


@router.get("/{session_id}/signed", response_model=SignedOut)
async def signed(central: TheCentral, session_id: Number) -> SignedOut:
    """The signed meter data of a session, judged."""
    await central.sessions.get(session_id)
    found = await central.signed_data.of_session(session_id)
    energy_wh = found.proof.energy_wh
    return SignedOut(
        session_id=session_id,
        result=found.proof.result,
        reasons=list(found.proof.reasons),
        energy_wh=None if energy_wh is None else f"{energy_wh:f}",
        serial=found.proof.serial,
        records=[_shown(record) for record in found.records],
    )


@router.get(
    "/{session_id}/cdr",
    response_class=Response,
    responses={
        200: {
            "description": "CDR object of OCPI 2.2.1, numbers with all their digits",
            "content": {"application/json": {"schema": {"type": "object"}}},
        }
    },
)
async def cdr(central: TheCentral, session_id: Number) -> Response:
    """The charge detail record of an ended, priced session (OCPI 2.2.1, mod_cdrs)."""
    session = await central.sessions.get(session_id)
    if session.site_id is None:
        raise Conflict(f"session {session_id} is of no site; give its station one")
    site = await central.sites.get_site(session.site_id)
    try:
        location = await central.locations.get(site.id)
    except NotFound:
        raise Conflict(f"say where the site is first: PUT /v1/sites/{site.id}/location") from None
    found = await central.signed_data.of_session(session_id)
    key_ids = {record.key_id for record in found.records if record.key_id is not None}
    tariff = None
    if session.tariff_id is not None:
        tariff = exchanged((await central.tariffs.get(session.tariff_id)).tariff)
    document: dict[str, Any] = write_cdr(
        CdrFacts(
            session=session,
            site=site,
            location=location,
            curve=await central.sessions.curve(session_id),
            pauses=await central.sessions.pauses(session_id),
            tariff=tariff,
            records=found.records,
            key=(await central.meter_keys.get(key_ids.pop())).key.der if len(key_ids) == 1 else None,
            at=central.clock.now(),
        )
    )
    return Response(dump_json(document), media_type="application/json")


def _shown(record: StoredRecord) -> RecordOut:
    return RecordOut(
        id=record.id,
        at=record.at,
        context=record.context,
        evse=record.evse,
        encoding=record.value.encoding,
        received=record.value.received,
        data=record.value.data,
        serial=record.serial,
        verdict=record.verdict,
        reasons=list(record.reasons),
        key_id=record.key_id,
        judged_at=record.judged_at,
    )
