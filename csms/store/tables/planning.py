"""What cars need and when, what energy costs in which hour, and the base load as it was."""

from sqlalchemy import BigInteger, Column, ForeignKey, Index, Integer, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Instant, RowId

# What every charge of a member needs unless something else is told for it.
member_need = Table(
    "member_need",
    metadata,
    Column("member_id", ForeignKey("member.id", ondelete="CASCADE"), primary_key=True),
    # Days on which it leaves (1 Monday to 7 Sunday, e.g. "12345"), and the hour by the site's clock.
    Column("days", String(7), nullable=False),
    Column("leaves_at", String(5), nullable=False),
    Column("energy_wh", Integer, nullable=True),
    Column("to_percent", Integer, nullable=True),
    Column("battery_wh", Integer, nullable=True),
    Column("changed_at", Instant, nullable=False),
)

# What a person told for one charge.
session_need = Table(
    "session_need",
    metadata,
    Column("session_id", ForeignKey("session.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
    Column("departure", Instant, nullable=True),
    Column("energy_wh", Integer, nullable=True),
    Column("to_percent", Integer, nullable=True),
    Column("battery_wh", Integer, nullable=True),
    Column("soc_percent", Integer, nullable=True),
    # The session's energy when the state of charge was told.
    Column("at_energy_wh", BigInteger, nullable=False, server_default="0"),
    Column("changed_at", Instant, nullable=False),
)

# What a car told through its charger; kept by the place, as it may come before its transaction.
car_need = Table(
    "car_need",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    Column("evse", Integer, primary_key=True, autoincrement=False),
    Column("told_at", Instant, nullable=False),
    Column("departure", Instant, nullable=True),
    Column("energy_wh", Integer, nullable=True),
    Column("battery_wh", Integer, nullable=True),
    Column("soc_percent", Integer, nullable=True),
    Column("to_percent", Integer, nullable=True),
    # The session that ran when it was told, and its energy then.
    Column("session_id", BigInteger, nullable=True),
    Column("at_energy_wh", BigInteger, nullable=False, server_default="0"),
)

# What a kWh costs at a site from one instant to before another, in millionths of the currency.
site_price = Table(
    "site_price",
    metadata,
    Column("site_id", ForeignKey("site.id", ondelete="CASCADE"), primary_key=True),
    Column("start_at", Instant, primary_key=True),
    Column("end_at", Instant, nullable=False),
    Column("per_kwh_micro", BigInteger, nullable=False),
    Column("currency", String(3), nullable=False),
)

# The highest base load of each quarter of an hour, circuits below not counted; for the forecast.
base_sample = Table(
    "base_sample",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("circuit_id", ForeignKey("circuit.id", ondelete="CASCADE"), nullable=False),
    Column("at", Instant, nullable=False),
    Column("l1_ma", Integer, nullable=False),
    Column("l2_ma", Integer, nullable=False),
    Column("l3_ma", Integer, nullable=False),
)
Index("ix_base_sample", base_sample.c.circuit_id, base_sample.c.at, unique=True)
