"""Files of the page Month: previews, documents, archive, the rent ledger's table, and how far they are."""

import asyncio
from collections.abc import AsyncIterator
from dataclasses import replace

from fastapi import APIRouter, Request
from fastapi.responses import Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from api.v1.documents import (
    TableFormat,
    archive_response,
    attached,
    pdf_response,
    rent_ledger_response,
)
from api.web import month_view
from api.web.addresses import address_of
from api.web.desk import back_to, central_of, render
from api.web.month import Chosen, Field, MayChange
from api.web.page_route import PageRoute
from api.web.site import SignedIn, ThisSite
from csms.errors import Conflict, InvalidInput, NotFound
from csms.ledger.period import Month

router = APIRouter(prefix="/month", include_in_schema=False, route_class=PageRoute)

LOOK_EVERY_S = 0.5
LOOKS_PER_CHECK = 20
"""A stream outlives the page's request, so now and then it asks whether the sign-in still holds."""


@router.get("/{site_id}/preview/{member_id}.pdf")
async def preview(request: Request, site: ThisSite, member_id: str, month: Chosen) -> Response:
    """What a member would get, marked as a preview."""
    central = central_of(request)
    try:
        found = await central.ledger.issuing.preview(site.id, month)
    except (InvalidInput, Conflict) as error:
        return back_to(address_of(site.id, month), problem=f"No preview: {str(error).rstrip('.')}.")
    for statement in found.statements:
        if statement.recipient.member_id == member_id:
            # Its number is not given yet: somebody might pay by a paper that is none.
            try:
                pdf = await central.documents.preview(replace(statement, number="", sequence=0))
            except InvalidInput as error:
                text = f"No preview: {str(error).rstrip('.')}."
                return back_to(address_of(site.id, month), problem=text)
            name = f"{month} {statement.recipient.name} preview.pdf"
            headers = attached(name)
            headers["Content-Disposition"] = headers["Content-Disposition"].replace("attachment", "inline", 1)
            return Response(pdf, media_type="application/pdf", headers=headers)
    raise NotFound("member with a statement", member_id)


@router.post("/{site_id}/documents")
async def make(request: Request, site: ThisSite, _own: MayChange, month: Field) -> Response:
    """Make what is missing of the month's documents."""
    address = address_of(site.id, month)
    try:
        progress = await central_of(request).documents.start(site.id, str(Month.parse(month)))
    except (InvalidInput, Conflict) as error:
        return back_to(address, problem=f"Not done: {str(error).rstrip('.')}.")
    left = progress.statements - progress.made
    return back_to(address, notice=f"{month_view.count(left, 'document')} to be made: they are under way.")


@router.get("/{site_id}/document/{statement_id}.pdf")
async def document(request: Request, site: ThisSite, statement_id: str) -> Response:
    """A document as it was issued."""
    central = central_of(request)
    if (await central.documents.get(statement_id)).site_id != site.id:
        raise NotFound("document of statement", statement_id)
    return await pdf_response(central, statement_id)


@router.get("/{site_id}/archive.zip")
async def archive(request: Request, site: ThisSite, month: Chosen) -> Response:
    """All documents of the month."""
    try:
        return await archive_response(central_of(request), site.id, month)
    except Conflict as error:
        return back_to(address_of(site.id, month), problem=f"No archive: {str(error).rstrip('.')}.")


@router.get("/{site_id}/table.{format}")
async def table(request: Request, site: ThisSite, format: TableFormat, month: Chosen) -> Response:
    """The month as the site's rent ledger takes it."""
    try:
        return await rent_ledger_response(central_of(request), site.id, month, format)
    except (Conflict, InvalidInput) as error:
        return back_to(address_of(site.id, month), problem=f"No table: {str(error).rstrip('.')}.")


@router.get("/{site_id}/live", response_class=EventSourceResponse)
async def live(
    request: Request, site: ThisSite, sign_in: SignedIn, month: Chosen
) -> AsyncIterator[ServerSentEvent]:
    """The step "documents" whenever it has changed, until all are made or have failed."""
    central = central_of(request)
    sent, looks = "", 0
    while True:
        looks += 1
        if looks % LOOKS_PER_CHECK == 0 and await central.people.check(sign_in.secret) is None:
            return
        progress = await central.documents.progress(site.id, month)
        step = month_view.documents(progress)
        if not progress.running:
            shown = month_view.Finding("", address_of(site.id, month), "Show the files")
            step = replace(step, findings=(*step.findings, shown))
        html = render("parts/step.html", s=step)
        if html != sent:
            sent = html
            yield ServerSentEvent(event="documents", raw_data=html)
        if not progress.running:
            yield ServerSentEvent(event="over", raw_data="over")
            return
        await asyncio.sleep(LOOK_EVERY_S)
