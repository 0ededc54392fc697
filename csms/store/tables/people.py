"""Who signs in: people to the pages, programs to the REST interface."""

from sqlalchemy import Boolean, Column, ForeignKey, LargeBinary, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Instant

person = Table(
    "person",
    metadata,
    Column("name", String(80), primary_key=True),
    Column("password_hash", String(200), nullable=False),
    Column("role", String(20), nullable=False),
    Column("created_at", Instant, nullable=False),
)

sign_in = Table(
    "sign_in",
    metadata,
    Column("secret_hash", LargeBinary, primary_key=True),
    Column("person", ForeignKey("person.name", ondelete="CASCADE"), nullable=False),
    # Sent back with every form, so that another site cannot press our buttons.
    Column("form_token", String(64), nullable=False),
    Column("created_at", Instant, nullable=False),
    Column("expires_at", Instant, nullable=False),
)

api_key = Table(
    "api_key",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("name", String(80), nullable=False, unique=True),
    Column("secret_hash", LargeBinary, nullable=False, unique=True),
    Column("role", String(20), nullable=False),
    Column("revoked", Boolean, nullable=False, server_default="0"),
    Column("created_at", Instant, nullable=False),
    Column("last_used_at", Instant, nullable=True),
)
