"""Alarms, who is told of them, what was sent, and the last self-tests."""

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, String, Table, Text, UniqueConstraint

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant, RowId

alarm = Table(
    "alarm",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("kind", String(40), nullable=False),
    Column("thing", String(160), nullable=False),
    # kind:thing while it is open, so that there is one; null when it is over.
    Column("open_key", String(201), nullable=True, unique=True),
    Column("severity", String(10), nullable=False),
    Column("state", String(12), nullable=False),
    Column("site_id", ForeignKey("site.id", ondelete="CASCADE"), nullable=True),
    # No foreign key: the alarm outlives the charger it was about.
    Column("station_id", String(48), nullable=True),
    Column("evse", Integer, nullable=True),
    Column("circuit_id", String(40), nullable=True),
    Column("detail", Document, nullable=False),
    Column("began_at", Instant, nullable=False),
    Column("due_at", Instant, nullable=True),
    Column("raised_at", Instant, nullable=True),
    Column("last_at", Instant, nullable=False),
    Column("times", Integer, nullable=False),
    Column("acknowledged_at", Instant, nullable=True),
    Column("acknowledged_by", String(80), nullable=False, server_default=""),
    Column("note", Text, nullable=False, server_default=""),
    Column("cleared_at", Instant, nullable=True),
    Column("cleared_by", String(80), nullable=False, server_default=""),
    Column("fact", RowId, nullable=False, server_default="0"),
    sqlite_autoincrement=True,
)
Index("ix_alarm_key", alarm.c.kind, alarm.c.thing)
Index("ix_alarm_state", alarm.c.state, alarm.c.site_id)
Index("ix_alarm_station", alarm.c.station_id)

alarm_route = Table(
    "alarm_route",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id", ondelete="CASCADE"), nullable=True),
    Column("channel", String(10), nullable=False),
    Column("address", String(500), nullable=False),
    Column("lowest", String(10), nullable=False),
    Column("after_s", Integer, nullable=False, server_default="0"),
    Column("active", Boolean, nullable=False),
    Column("secret", String(120), nullable=False, server_default=""),
    Column("created_at", Instant, nullable=False),
)

alarm_delivery = Table(
    "alarm_delivery",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("alarm_id", ForeignKey("alarm.id", ondelete="CASCADE"), nullable=False),
    Column("route_id", ForeignKey("alarm_route.id", ondelete="CASCADE"), nullable=True),
    Column("channel", String(10), nullable=False),
    Column("address", String(500), nullable=False),
    Column("occasion", String(10), nullable=False),
    Column("state", String(10), nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("next_at", Instant, nullable=False),
    Column("error", String(255), nullable=False, server_default=""),
    Column("sent_at", Instant, nullable=True),
    UniqueConstraint("alarm_id", "address", "occasion", "route_id"),
    sqlite_autoincrement=True,
)
Index("ix_alarm_delivery_due", alarm_delivery.c.state, alarm_delivery.c.next_at)

self_test = Table(
    "self_test",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=False),
    Column("evse", Integer, nullable=False, server_default="0"),
    Column("at", Instant, nullable=False),
    Column("passed", Boolean, nullable=False),
    # charger: told by itself; person: done by hand and written down.
    Column("source", String(10), nullable=False),
    Column("detail", String(255), nullable=False, server_default=""),
    Column("written_by", String(80), nullable=False, server_default=""),
    sqlite_autoincrement=True,
)
Index("ix_self_test_station", self_test.c.station_id, self_test.c.at)
