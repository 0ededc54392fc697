"""Prices of markets: documents as they came, and every price with the document that said it.

Documents and prices are only ever added: what was priced by an older revision can be looked up.
"""

from sqlalchemy import (
    BigInteger,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant

market_feed = Table(
    "market_feed",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("name", String(120), nullable=False),
    Column("currency", String(3), nullable=False),
    # What chooses among the series of a document that has several.
    Column("area", String(20), nullable=True),
    Column("sequence", Integer, nullable=True),
    Column("minutes", Integer, nullable=True),
    # {"kind": "folder" | "url", …} as csms.tariffs.market.inputs reads it, or null: sent by REST.
    Column("source", Document, nullable=True),
    Column("created_at", Instant, nullable=False),
    # When the source was asked last, and what was wrong with it since when; "" when nothing is.
    Column("checked_at", Instant, nullable=True),
    Column("fault", Text, nullable=False, server_default=""),
    Column("fault_at", Instant, nullable=True),
)

market_document = Table(
    "market_document",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("feed_id", ForeignKey("market_feed.id"), nullable=False),
    Column("kind", String(10), nullable=False),  # a44, csv
    # Where it came from: a file's name, an address, who sent it.
    Column("name", String(200), nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("mrid", String(60), nullable=True),
    Column("revision", Integer, nullable=False),
    Column("made_at", Instant, nullable=True),
    Column("received_at", Instant, nullable=False),
    Column("start_at", Instant, nullable=False),
    Column("end_at", Instant, nullable=False),
    Column("raw", LargeBinary, nullable=False),
    UniqueConstraint("feed_id", "sha256", name="uq_market_document_content"),
    UniqueConstraint("feed_id", "mrid", "revision", name="uq_market_document_revision"),
)
Index("ix_market_document_feed", market_document.c.feed_id, market_document.c.start_at)

market_price = Table(
    "market_price",
    metadata,
    Column("document_id", ForeignKey("market_document.id"), primary_key=True),
    Column("start_at", Instant, primary_key=True),
    Column("end_at", Instant, nullable=False),
    # Millionths of the feed's currency per MWh; may be negative.
    Column("micro_per_mwh", BigInteger, nullable=False),
)
