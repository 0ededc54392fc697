"""What security profile a station has reached, where an upgrade stands, and certificates we signed."""

from sqlalchemy import Column, ForeignKey, Index, Integer, LargeBinary, String, Table, Text

from csms.store.tables.base import metadata
from csms.store.types import Instant, RowId

station_security = Table(
    "station_security",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    # The highest profile it has come by; null: none that counts yet.
    Column("in_use", Integer, nullable=True),
    # An upgrade under way, and the step that it has reached.
    Column("wanted", Integer, nullable=True),
    Column("step", String(24), nullable=False, server_default=""),
    Column("detail", Text, nullable=False, server_default=""),
    Column("changed_at", Instant, nullable=True),
    # A key that was sent to the station, until it has come by it.
    Column("next_key_salt", LargeBinary, nullable=True),
    Column("next_key_hash", LargeBinary, nullable=True),
)

station_certificate = Table(
    "station_certificate",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=False),
    Column("use", String(24), nullable=False),
    # signed -> installed | refused; installed -> replaced
    Column("state", String(12), nullable=False),
    Column("common_name", String(64), nullable=False),
    Column("serial_number", String(64), nullable=False),
    Column("chain_pem", Text, nullable=False),
    Column("not_after", Instant, nullable=False),
    Column("signed_at", Instant, nullable=False),
    Column("detail", Text, nullable=False, server_default=""),
    sqlite_autoincrement=True,
)
Index("ix_station_certificate_station", station_certificate.c.station_id)
