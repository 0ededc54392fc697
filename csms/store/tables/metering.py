"""Readings: one row per instant, one column per quantity and line."""

from sqlalchemy import BigInteger, Column, Index, Integer, String, Table, Text

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant, RowId

reading = Table(
    "reading",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", String(48), nullable=False),
    Column("evse", Integer, nullable=True),
    # No foreign key: this table takes the bulk of all writes, and a session never goes away.
    Column("session_id", BigInteger, nullable=True),
    Column("at", Instant, nullable=False),
    Column("context", String(20), nullable=False),
    Column("register_wh", BigInteger, nullable=True),
    Column("power_w", Integer, nullable=True),
    # Per line of the station (not of the supply: the wiring may rotate them).
    Column("current_l1_ma", Integer, nullable=True),
    Column("current_l2_ma", Integer, nullable=True),
    Column("current_l3_ma", Integer, nullable=True),
    Column("voltage_l1_mv", Integer, nullable=True),
    Column("voltage_l2_mv", Integer, nullable=True),
    Column("voltage_l3_mv", Integer, nullable=True),
    Column("power_l1_w", Integer, nullable=True),
    Column("power_l2_w", Integer, nullable=True),
    Column("power_l3_w", Integer, nullable=True),
    Column("offered_ma", Integer, nullable=True),
    Column("temperature_dc", Integer, nullable=True),
    Column("soc_permille", Integer, nullable=True),
    Column("signed", Text, nullable=True),
    Column("others", Document, nullable=True),
)
Index("ix_reading_session", reading.c.session_id, reading.c.at)
Index("ix_reading_station", reading.c.station_id, reading.c.at)

circuit_reading = Table(
    "circuit_reading",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("circuit_id", String(40), nullable=False),
    Column("at", Instant, nullable=False),
    Column("counts", String(5), nullable=False),  # base, total
    Column("current_l1_ma", Integer, nullable=True),
    Column("current_l2_ma", Integer, nullable=True),
    Column("current_l3_ma", Integer, nullable=True),
)
Index("ix_circuit_reading", circuit_reading.c.circuit_id, circuit_reading.c.at)
