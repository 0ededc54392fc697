"""The outbox: what happened, written with the change itself."""

from sqlalchemy import Column, Index, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant, RowId

outbox = Table(
    "outbox",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("topic", String(40), nullable=False),
    Column("site_id", String(40), nullable=True),
    Column("subject", String(80), nullable=False, server_default=""),
    Column("body", Document, nullable=False),
    Column("at", Instant, nullable=False),
    Column("handled_at", Instant, nullable=True),
    sqlite_autoincrement=True,
)
Index("ix_outbox_unhandled", outbox.c.handled_at, outbox.c.id)
Index("ix_outbox_site", outbox.c.site_id, outbox.c.id)
