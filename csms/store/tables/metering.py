"""Readings: one row per instant, one column per quantity and line."""

from sqlalchemy import BigInteger, Column, Index, Integer, String, Table, Text, UniqueConstraint

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

meter_key = Table(
    "meter_key",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("serial", String(64), nullable=False),
    # SubjectPublicKeyInfo, DER in hex, and its SHA-256.
    Column("key_hex", Text, nullable=False),
    Column("fingerprint", String(64), nullable=False),
    Column("curve", String(40), nullable=False),
    Column("state", String(12), nullable=False),  # unconfirmed, confirmed, revoked
    Column("valid_from", Instant, nullable=True),
    Column("valid_to", Instant, nullable=True),
    Column("note", String(254), nullable=False, server_default=""),
    Column("source", String(120), nullable=False, server_default=""),
    Column("created_at", Instant, nullable=False),
    Column("confirmed_at", Instant, nullable=True),
    UniqueConstraint("serial", "fingerprint"),
)

signed_record = Table(
    "signed_record",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", String(48), nullable=False),
    Column("evse", Integer, nullable=True),
    # As with readings: no foreign key.
    Column("session_id", BigInteger, nullable=True),
    Column("at", Instant, nullable=False),
    Column("context", String(20), nullable=False),
    # As it came, and the record inside it; the digest is of the record.
    Column("received", Text, nullable=False),
    Column("data", Text, nullable=False),
    Column("encoding", String(50), nullable=False, server_default=""),
    Column("signing", String(50), nullable=False, server_default=""),
    Column("public_key", Text, nullable=False, server_default=""),
    Column("digest", String(64), nullable=False),
    Column("serial", String(64), nullable=True),
    Column("verdict", String(16), nullable=False),
    Column("reasons", Document, nullable=True),
    Column("key_id", String(40), nullable=True),
    Column("judged_at", Instant, nullable=True),
)
Index("uq_signed_record", signed_record.c.session_id, signed_record.c.digest, unique=True)
Index("ix_signed_record_digest", signed_record.c.digest)
Index("ix_signed_record_serial", signed_record.c.serial)
Index("ix_signed_record_verdict", signed_record.c.verdict, signed_record.c.id)

signed_proof = Table(
    "signed_proof",
    metadata,
    # What the signed records of a session come to; no row: it has none.
    Column("session_id", BigInteger, primary_key=True, autoincrement=False),
    Column("result", String(16), nullable=False),
    Column("reasons", Document, nullable=False),
    # Signed energy in mWh.
    Column("energy_mwh", BigInteger, nullable=True),
    Column("serial", String(64), nullable=False, server_default=""),
    Column("judged_at", Instant, nullable=False),
)

emission_factor = Table(
    "emission_factor",
    metadata,
    # Of the electricity that the site takes, from `from_at` to before `to_at`.
    Column("site_id", String(40), primary_key=True),
    Column("from_at", Instant, primary_key=True),
    Column("to_at", Instant, nullable=False),
    Column("mg_per_kwh", BigInteger, nullable=False),
)
