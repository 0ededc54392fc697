"""Offers: what we have promised to each EVSE, written before it is sent."""

from sqlalchemy import Boolean, Column, ForeignKey, Integer, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant

offer = Table(
    "offer",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    Column("evse", Integer, primary_key=True, autoincrement=False),
    # Highest current, per line, that the car may still be drawing by any promise of ours.
    Column("promised_ma", Integer, nullable=False),
    # The current last asked of the station, and whether it has accepted it.
    Column("asked_ma", Integer, nullable=False),
    Column("accepted", Boolean, nullable=False),
    Column("asked_at", Instant, nullable=False),
    Column("lapses_at", Instant, nullable=True),
    Column("reason", Document, nullable=True),
)

fallback_profile = Table(
    "fallback_profile",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    Column("current_ma", Integer, nullable=False),
    Column("accepted", Boolean, nullable=False),
    Column("detail", String(255), nullable=False, server_default=""),
    Column("stored_at", Instant, nullable=False),
)
