"""What models of stations get wrong, and how single ones are to be taken."""

from sqlalchemy import Boolean, Column, Float, ForeignKey, String, Table

from csms.store.tables.base import metadata
from csms.store.types import RowId

station_quirk = Table(
    "station_quirk",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    # Of which stations; empty fits all. The firmware by how its version begins.
    Column("vendor", String(255), nullable=False),
    Column("model", String(255), nullable=False),
    Column("firmware", String(255), nullable=False),
    Column("energy_factor", Float, nullable=False),
    Column("power_factor", Float, nullable=False),
    Column("current_factor", Float, nullable=False),
    # IANA zone of times without one, and of those with a false Z.
    Column("zone", String(64), nullable=False),
    Column("false_z", Boolean, nullable=False),
    Column("note", String(255), nullable=False),
    sqlite_autoincrement=True,
)

station_manner = Table(
    "station_manner",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    # It names no version when it connects, and speaks OCPP 1.6.
    Column("assume_16", Boolean, nullable=False),
)
