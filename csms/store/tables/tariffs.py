"""Tariffs as documents, and who they apply to."""

from sqlalchemy import Boolean, Column, ForeignKey, Index, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant

tariff = Table(
    "tariff",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("name", String(120), nullable=False),
    # {"json": the OCPI Tariff object as JSON text}: as text its numbers keep their digits, where a
    # JSON column would hand them out as floats.
    Column("document", Document, nullable=False),
    Column("created_at", Instant, nullable=False),
)

tariff_assignment = Table(
    "tariff_assignment",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("tariff_id", ForeignKey("tariff.id", ondelete="CASCADE"), nullable=False),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=True),
    Column("group_id", ForeignKey("member_group.id", ondelete="CASCADE"), nullable=True),
    # For whoever charges without being a member.
    Column("guests", Boolean, nullable=False, server_default="0"),
    Column("valid_from", Instant, nullable=True),
    Column("valid_to", Instant, nullable=True),
    Column("created_at", Instant, nullable=False),
)
Index("ix_tariff_assignment_site", tariff_assignment.c.site_id)
