"""Stations, their EVSEs, what we asked of them, and what could not be read."""

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    String,
    Table,
    Text,
)

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant, RowId

station = Table(
    "station",
    metadata,
    # The identity in the URL it connects to (OCPP: at most 48 characters).
    Column("id", String(48), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=True),
    Column("circuit_id", ForeignKey("circuit.id"), nullable=True),
    Column("name", String(120), nullable=False, server_default=""),
    Column("key_salt", LargeBinary, nullable=True),
    Column("key_hash", LargeBinary, nullable=True),
    Column("registration", String(10), nullable=False),
    # Installation: which supply lines its L1, L2, L3 are wired to, e.g. "L2,L3,L1".
    Column("wiring", String(8), nullable=False, server_default="L1,L2,L3"),
    Column("max_current_ma", Integer, nullable=False, server_default="32000"),
    Column("step_ma", Integer, nullable=False, server_default="1000"),
    Column("fallback_ma", Integer, nullable=False, server_default="0"),
    Column("can_choose_line", Boolean, nullable=False, server_default="0"),
    Column("keeps_profiles", Boolean, nullable=False, server_default="1"),
    # The serial number of the charger that is to come to this place; empty: not planned by serial.
    Column("expected_serial", String(255), nullable=False, server_default=""),
    # What the last check of the wiring by stepping a car came to, or null.
    Column("wiring_check", Document, nullable=True),
    # As told by the last boot.
    Column("vendor", String(255), nullable=False, server_default=""),
    Column("model", String(255), nullable=False, server_default=""),
    Column("serial", String(255), nullable=False, server_default=""),
    Column("firmware", String(255), nullable=False, server_default=""),
    Column("protocol", String(16), nullable=False, server_default=""),
    Column("booted_at", Instant, nullable=True),
    # Presence: epoch counts the sockets, so that an old one's end cannot mark a new one lost.
    Column("epoch", Integer, nullable=False, server_default="0"),
    Column("connected", Boolean, nullable=False, server_default="0"),
    Column("presence_at", Instant, nullable=True),
    Column("last_seen_at", Instant, nullable=True),
    Column("created_at", Instant, nullable=False),
)
Index("ix_station_site", station.c.site_id)
Index("ix_station_expected_serial", station.c.expected_serial)

evse = Table(
    "evse",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("connector", Integer, nullable=False, server_default="1"),
    Column("confirmed", Boolean, nullable=False, server_default="1"),
    Column("status", String(16), nullable=False),
    Column("error", String(50), nullable=False, server_default=""),
    Column("info", String(255), nullable=False, server_default=""),
    Column("status_at", Instant, nullable=False),
)

station_command = Table(
    "station_command",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=False),
    Column("kind", String(40), nullable=False),
    Column("body", Document, nullable=False),
    # asked -> answered | timed_out | offline, and timed_out -> answered_late.
    Column("state", String(16), nullable=False),
    Column("status", String(20), nullable=True),
    Column("detail", Text, nullable=False, server_default=""),
    Column("data", Document, nullable=True),
    Column("asked_by", String(80), nullable=False, server_default=""),
    Column("asked_at", Instant, nullable=False),
    Column("answered_at", Instant, nullable=True),
)
Index("ix_station_command_station", station_command.c.station_id, station_command.c.asked_at)

station_variable = Table(
    "station_variable",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    Column("path", String(255), primary_key=True),
    Column("value", Text, nullable=True),
    Column("readonly", Boolean, nullable=False),
    Column("seen_at", Instant, nullable=False),
)

quarantine = Table(
    "quarantine",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", String(48), nullable=False),
    Column("at", Instant, nullable=False),
    Column("reason", String(255), nullable=False),
    Column("frame", LargeBinary, nullable=False),
    # When somebody had it read once more, and what came of it.
    Column("replayed_at", Instant, nullable=True),
    Column("outcome", String(255), nullable=True),
    sqlite_autoincrement=True,
)
Index("ix_quarantine_station", quarantine.c.station_id, quarantine.c.at)

# What stations told and nobody else owns: security events, states of firmware, monitors, …
station_report = Table(
    "station_report",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=False),
    Column("kind", String(40), nullable=False),
    Column("at", Instant, nullable=False),
    Column("evse", BigInteger, nullable=True),
    Column("request_id", BigInteger, nullable=True),
    Column("body", Document, nullable=False),
    sqlite_autoincrement=True,
)
Index("ix_station_report_kind", station_report.c.station_id, station_report.c.kind, station_report.c.id)
