"""`/v1/statements`: issued statements and credit notes, as they were issued."""

from typing import Annotated

from fastapi import APIRouter, Query, Response

from api.amounts import Day, text_of
from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Note, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.ledger.issuing.issued import Document
from csms.ledger.statement import StatementKind
from csms.store.paging import Page

router = APIRouter(prefix="/statements", tags=["statements"], route_class=GuardedRoute)
cursors = Cursors("statements")


class StatementOut(Output):
    """An issued document; `hash` is the SHA-256 of its content."""

    id: str
    site_id: str
    run_id: str | None
    member_id: str
    kind: StatementKind
    number: str
    period: str
    issued_at: Instant
    due_on: Day | None
    currency: str
    net: str
    vat: str
    gross: str
    hash: str
    corrects_id: str | None
    replaces_id: str | None


class Credit(Input):
    """`note`: a line that the credit note shows. `issued_on`: left out: today."""

    note: Note = ""
    issued_on: Day | None = None


def _shown(document: Document) -> StatementOut:
    currency = document.currency
    return StatementOut(
        id=document.id,
        site_id=document.site_id,
        run_id=document.run_id,
        member_id=document.member_id,
        kind=StatementKind(document.kind),
        number=document.number,
        period=document.period,
        issued_at=document.issued_at,
        due_on=document.due_on,
        currency=currency,
        net=text_of(document.net_minor, currency),
        vat=text_of(document.vat_minor, currency),
        gross=text_of(document.gross_minor, currency),
        hash=document.hash,
        corrects_id=document.corrects_id,
        replaces_id=document.replaces_id,
    )


@router.get("", response_model=PageOut[StatementOut])
async def list_statements(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    member: Annotated[Ident | None, Query()] = None,
    period: Annotated[str | None, Query(pattern=r"^\d{4}-\d{2}$")] = None,
    run: Annotated[Ident | None, Query()] = None,
    kind: Annotated[StatementKind | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[StatementOut]:
    """Issued documents that fit all that is given, by id."""
    page = cursors.write(
        await central.ledger.issuing.statements(
            site_id=site,
            member_id=member,
            period=period,
            run_id=run,
            kind=kind,
            after=cursors.read(after),
            limit=limit,
        )
    )
    return Page(tuple(_shown(document) for document in page.items), page.next)


@router.get("/{statement_id}", response_model=StatementOut)
async def get_statement(central: TheCentral, statement_id: Id) -> StatementOut:
    """One document; its content is at `/content`."""
    document, _ = await central.ledger.issuing.statement(statement_id)
    return _shown(document)


@router.get(
    "/{statement_id}/content",
    response_class=Response,
    responses={200: {"content": {"application/json": {"schema": {"type": "object"}}}}},
)
async def get_statement_content(central: TheCentral, statement_id: Id) -> Response:
    """All that the document shows, byte for byte as it was issued: its SHA-256 is `hash`."""
    text = await central.ledger.issuing.statement_text(statement_id)
    return Response(text, media_type="application/json")


@router.post("/{statement_id}/credit", status_code=201, response_model=StatementOut)
async def credit_statement(
    central: TheCentral, statement_id: Id, response: Response, body: Credit | None = None
) -> StatementOut:
    """A credit note over the whole statement, which it mirrors and names; the one that is there already
    where there is one."""
    body = body or Credit()
    note = await central.ledger.issuing.credit(statement_id, body.note, body.issued_on)
    response.headers["Location"] = f"/v1/statements/{note.id}"
    return _shown(note)
