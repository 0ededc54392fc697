"""Sites and the circuits of their supply."""

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant

site = Table(
    "site",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("name", String(120), nullable=False),
    Column("time_zone", String(64), nullable=False),
    Column("currency", String(3), nullable=False),
    Column("system", String(10), nullable=False),
    Column("active", Boolean, nullable=False),
    Column("created_at", Instant, nullable=False),
    # How the supply is shared, and what is even: amperes or kilowatts.
    Column("strategy", String(20), nullable=False, server_default="weighted"),
    Column("fairness", String(20), nullable=False, server_default="amperes"),
)

circuit = Table(
    "circuit",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id", ondelete="CASCADE"), nullable=False),
    Column("name", String(120), nullable=False),
    Column("fed_from", ForeignKey("circuit.id"), nullable=True),
    # What the installer allows per line, and the rating of the fuse or breaker itself.
    Column("limit_l1_ma", Integer, nullable=False),
    Column("limit_l2_ma", Integer, nullable=False),
    Column("limit_l3_ma", Integer, nullable=False),
    Column("device_ma", Integer, nullable=True),
    Column("cap_w", Integer, nullable=True),
    # Lower caps by time of day: [{"start": "17:00", "end": "20:00", "cap_w": n}] or null.
    Column("caps", Document, nullable=True),
    Column("unbalance_ma", Integer, nullable=True),
    # Base load assumed when no meter tells: the worst case, per line.
    Column("worst_base_l1_ma", Integer, nullable=False, server_default="0"),
    Column("worst_base_l2_ma", Integer, nullable=False, server_default="0"),
    Column("worst_base_l3_ma", Integer, nullable=False, server_default="0"),
    # How the building is measured here: {"counts": "base" | "total", "period_s": n, "input"?: {…}} or null.
    Column("meter", Document, nullable=True),
)
Index("ix_circuit_site", circuit.c.site_id)

site_location = Table(
    "site_location",
    metadata,
    # What partners are told of the place (OCPI CdrLocation) and of who runs it (OCPI party).
    Column("site_id", ForeignKey("site.id", ondelete="CASCADE"), primary_key=True),
    Column("country_code", String(2), nullable=False),
    Column("party_id", String(3), nullable=False),
    Column("address", String(45), nullable=False),
    Column("city", String(45), nullable=False),
    Column("postal_code", String(10), nullable=False, server_default=""),
    Column("country", String(3), nullable=False),
    Column("latitude", String(10), nullable=False),
    Column("longitude", String(11), nullable=False),
    Column("connector_standard", String(30), nullable=False),
    Column("connector_format", String(6), nullable=False),
    Column("changed_at", Instant, nullable=False),
)
