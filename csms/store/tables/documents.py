"""Documents of statements: how a site wants them, what was made, and which months are being made."""

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, LargeBinary, String, Table, Text

from csms.store.tables.base import metadata
from csms.store.types import Instant

document_settings = Table(
    "document_settings",
    metadata,
    Column("site_id", ForeignKey("site.id"), primary_key=True),
    # csms.documents.columns.DocumentSettings as canonical text.
    Column("settings", Text, nullable=False),
    Column("changed_at", Instant, nullable=False),
)

document = Table(
    "document",
    metadata,
    Column("statement_id", ForeignKey("statement.id"), primary_key=True),
    Column("site_id", String(40), nullable=False),
    Column("period", String(7), nullable=False),  # YYYY-MM
    Column("number", String(40), nullable=False),
    Column("member_name", String(120), nullable=False),
    # Why there is none; empty when there is one. It is tried again with the next run.
    Column("problem", Text, nullable=False, server_default=""),
    # PDF and XML as zlib; the hash and size are those of the PDF itself.
    Column("pdf", LargeBinary, nullable=True),
    Column("hash", String(64), nullable=False, server_default=""),
    Column("size", Integer, nullable=False, server_default="0"),
    Column("invoice", LargeBinary, nullable=True),
    Column("electronic", Boolean, nullable=False),
    Column("made_at", Instant, nullable=False),
)
Index("ix_document_site", document.c.site_id, document.c.period)

document_run = Table(
    "document_run",
    metadata,
    Column("site_id", ForeignKey("site.id"), primary_key=True),
    Column("period", String(7), primary_key=True),
    Column("wanted_at", Instant, nullable=False),
    # Null while it is at work, or was when the server died.
    Column("done_at", Instant, nullable=True),
)
