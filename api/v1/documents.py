"""`/v1/documents`: the documents of a month's statements, how a site wants them, its rent ledger's table."""

import asyncio
from collections.abc import AsyncIterator, Mapping
from enum import StrEnum
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query
from fastapi.responses import Response, StreamingResponse
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output, Text
from csms.app import Central
from csms.documents.columns import DEFAULT_COLUMNS, Column, Content, DocumentSettings, RowsPer
from csms.documents.document import Document, Progress
from csms.documents.language import Language
from csms.documents.spreadsheet import as_csv, as_xlsx

router = APIRouter(prefix="/documents", tags=["documents"], route_class=GuardedRoute)

Month = Annotated[str, Query(pattern=r"^2\d{3}-(0[1-9]|1[0-2])$", examples=["2026-11"])]
Site = Annotated[Ident, Query()]
Code = Annotated[str, Field(max_length=40)]

CHUNK = 1 << 18
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def _file(media_type: str, description: str) -> dict[int | str, dict[str, Any]]:
    schema = {"type": "string", "format": "binary"}
    return {200: {"description": description, "content": {media_type: {"schema": schema}}}}


class TableFormat(StrEnum):
    """How the rent ledger's table is written."""

    CSV = "csv"
    XLSX = "xlsx"


class ColumnIn(Input):
    """A column of the rent ledger. Without a name it has the one of the language."""

    content: Content = Field(strict=False)
    name: Annotated[str, Field(max_length=120)] = ""


class SettingsIn(Input):
    """How a site wants its documents. `accounts`: kind of line, or `vat`, to account code;
    `account` is for what has none of its own. `member_accounts`: member id to code."""

    e_invoice: bool = False
    columns: Annotated[list[ColumnIn], Field(max_length=100)] = Field(
        default_factory=lambda: [ColumnIn(content=each.content) for each in DEFAULT_COLUMNS]
    )
    rows_per: RowsPer = Field(default=RowsPer.DOCUMENT, strict=False)
    decimal_sign: Annotated[str, Field(max_length=1)] = "."
    separator: Annotated[str, Field(max_length=1)] = ","
    account: Code = ""
    accounts: dict[str, Code] = Field(default_factory=dict)
    member_accounts: dict[str, Code] = Field(default_factory=dict)


class ColumnOut(Output):
    """A column of the rent ledger."""

    content: Content
    name: str


class SettingsOut(Output):
    """How a site wants its documents."""

    e_invoice: bool
    columns: list[ColumnOut]
    rows_per: RowsPer
    decimal_sign: str
    separator: str
    account: str
    accounts: dict[str, str]
    member_accounts: dict[str, str]


class MonthIn(Input):
    """The month of a site whose documents are wanted."""

    site_id: Ident
    period: Annotated[Text, Field(pattern=r"^2\d{3}-(0[1-9]|1[0-2])$", examples=["2026-11"])]


class FailureOut(Output):
    """A document that could not be made, and why."""

    statement_id: str
    number: str
    member_name: str
    problem: str


class ProgressOut(Output):
    """Of `statements`, `made` have their document; `running`: the others are being made."""

    statements: int
    made: int
    running: bool
    failures: list[FailureOut]


class DocumentOut(Output):
    """A document, or why there is none (`problem`). `hash`: SHA-256 of the PDF; `size`: its bytes."""

    statement_id: str
    number: str
    member_name: str
    problem: str
    hash: str
    size: int
    electronic: bool
    made_at: Instant


class MonthOut(ProgressOut):
    """A month's documents and how far they are."""

    items: list[DocumentOut]


@router.get("/settings/{site_id}", response_model=SettingsOut)
async def get_settings(central: TheCentral, site_id: Id) -> DocumentSettings:
    """How the site wants its documents."""
    return await central.documents.settings(site_id)


@router.put("/settings/{site_id}", response_model=SettingsOut)
async def put_settings(central: TheCentral, site_id: Id, body: SettingsIn) -> DocumentSettings:
    """Set all of it; what is left out is as if never set. Documents that are made stay as they are."""
    given = body.model_dump()
    columns = tuple(Column(each.content, each.name) for each in body.columns)
    return await central.documents.set_settings(site_id, DocumentSettings(**{**given, "columns": columns}))


@router.get("", response_model=MonthOut)
async def list_documents(central: TheCentral, site: Site, period: Month) -> Mapping[str, Any]:
    """The month's documents, and how far they are."""
    await central.sites.get_site(site)
    progress = await central.documents.progress(site, period)
    documents = await central.documents.of_month(site, period)
    return {
        "statements": progress.statements,
        "made": progress.made,
        "running": progress.running,
        "failures": progress.failures,
        "items": documents,
    }


@router.post("", status_code=202, response_model=ProgressOut)
async def make_documents(central: TheCentral, body: MonthIn) -> Progress:
    """Make what is missing of the month, in the background; what has failed is tried again."""
    await central.sites.get_site(body.site_id)
    return await central.documents.start(body.site_id, body.period)


@router.get("/archive", response_class=Response, responses=_file("application/zip", "All PDFs as a ZIP"))
async def get_archive(central: TheCentral, site: Site, period: Month) -> Response:
    """All PDFs of the month as a ZIP. What could not be made is named in a text file inside."""
    await central.sites.get_site(site)
    return await archive_response(central, site, period)


@router.get(
    "/rent-ledger",
    response_class=Response,
    responses={
        200: {
            "description": "The month's statements by the site's columns",
            "content": {
                "text/csv": {"schema": {"type": "string"}},
                XLSX: {"schema": {"type": "string", "format": "binary"}},
            },
        }
    },
)
async def get_rent_ledger(
    central: TheCentral,
    site: Site,
    period: Month,
    format: TableFormat = TableFormat.CSV,
    language: Language | None = None,
) -> Response:
    """The month's statements as the table that the site's rent ledger takes. `language`: of the names of
    columns that have none; left out, the site's."""
    await central.sites.get_site(site)
    return await rent_ledger_response(central, site, period, format, language)


@router.get("/{statement_id}", response_model=DocumentOut)
async def get_document(central: TheCentral, statement_id: Id) -> Document:
    """What is known of one document."""
    return await central.documents.get(statement_id)


@router.get("/{statement_id}/pdf", response_class=Response, responses=_file("application/pdf", "PDF/A-3b"))
async def get_pdf(central: TheCentral, statement_id: Id) -> Response:
    """The document itself."""
    return await pdf_response(central, statement_id)


@router.get(
    "/{statement_id}/invoice",
    response_class=Response,
    responses=_file("application/xml", "EN 16931, Cross Industry Invoice"),
)
async def get_invoice(central: TheCentral, statement_id: Id) -> Response:
    """The electronic invoice that the document carries. Not found when it carries none."""
    document = await central.documents.get(statement_id)
    name = document.file_name.removesuffix(".pdf") + ".xml"
    xml = await central.documents.invoice(statement_id)
    return Response(xml, media_type="application/xml", headers=attached(name))


async def pdf_response(central: Central, statement_id: str) -> Response:
    """A document as a file to keep."""
    document = await central.documents.get(statement_id)
    pdf = await central.documents.pdf(statement_id)
    return Response(pdf, media_type="application/pdf", headers=attached(document.file_name))


async def archive_response(central: Central, site_id: str, period: str) -> Response:
    """All PDFs of a month, sent while they are read. Raises Conflict before anything is sent."""
    opened = central.documents.archive(site_id, period)
    file = await opened.__aenter__()

    async def chunks() -> AsyncIterator[bytes]:
        try:
            while chunk := await asyncio.to_thread(file.read, CHUNK):
                yield chunk
        finally:
            await opened.__aexit__(None, None, None)

    headers = attached(f"{site_id}-{period}.zip")
    return StreamingResponse(chunks(), media_type="application/zip", headers=headers)


async def rent_ledger_response(
    central: Central, site_id: str, period: str, format: TableFormat, language: Language | None = None
) -> Response:
    """The rent ledger's table as a file to keep."""
    table = await central.documents.rent_ledger(site_id, period, language)
    headers = attached(f"{site_id}-{period}.{format.value}")
    if format is TableFormat.XLSX:
        made_on = central.clock.now().date()
        return Response(await asyncio.to_thread(as_xlsx, table, made_on), media_type=XLSX, headers=headers)
    settings = await central.documents.settings(site_id)
    text = as_csv(table, separator=settings.separator, decimal_sign=settings.decimal_sign)
    return Response(text, media_type="text/csv", headers=headers)


def attached(name: str) -> dict[str, str]:
    """The header that makes a browser keep a file under `name` (RFC 6266, RFC 8187)."""
    plain = name.encode("ascii", "replace").decode().replace("?", "_").replace('"', "_").replace("\\", "_")
    return {
        "Content-Disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"
    }
