"""Firmware images, roll-outs, the update of each station, and files that stations were asked for."""

from sqlalchemy import Boolean, Column, Float, ForeignKey, Index, Integer, String, Table, Text

from csms.store.tables.base import metadata
from csms.store.types import Instant, RowId

firmware_image = Table(
    "firmware_image",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("vendor", String(120), nullable=False, server_default=""),
    Column("model", String(120), nullable=False, server_default=""),
    Column("version", String(120), nullable=False),
    Column("signing_certificate", Text, nullable=False, server_default=""),
    Column("signature", Text, nullable=False, server_default=""),
    Column("sha256", String(64), nullable=False, server_default=""),
    Column("size_bytes", RowId, nullable=False, server_default="0"),
    Column("token", String(64), nullable=False, unique=True),
    Column("created_at", Instant, nullable=False),
)

firmware_campaign = Table(
    "firmware_campaign",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id", ondelete="CASCADE"), nullable=False),
    Column("image_id", ForeignKey("firmware_image.id"), nullable=False),
    Column("canaries", Integer, nullable=False),
    Column("at_once", Integer, nullable=False),
    # HH:MM of the site's day
    Column("from_local", String(5), nullable=False),
    Column("to_local", String(5), nullable=False),
    Column("most_failed", Float, nullable=False),
    Column("look_after", Integer, nullable=False),
    Column("state", String(12), nullable=False),
    Column("forgiven", Integer, nullable=False, server_default="0"),
    Column("created_at", Instant, nullable=False),
    Column("created_by", String(80), nullable=False, server_default=""),
)

firmware_update = Table(
    "firmware_update",
    metadata,
    # Counted up, and what the station knows the update by.
    Column("request_id", RowId, primary_key=True, autoincrement=True),
    Column("campaign_id", ForeignKey("firmware_campaign.id", ondelete="CASCADE"), nullable=False),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=False),
    Column("position", Integer, nullable=False),
    Column("state", String(12), nullable=False),
    Column("detail", String(255), nullable=False, server_default=""),
    Column("canary", Boolean, nullable=False),
    Column("changed_at", Instant, nullable=False),
    sqlite_autoincrement=True,
)
Index("ix_firmware_update_station", firmware_update.c.station_id, firmware_update.c.state)
Index("ix_firmware_update_campaign", firmware_update.c.campaign_id)

station_log = Table(
    "station_log",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=False),
    Column("kind", String(20), nullable=False),
    Column("token", String(64), nullable=False, unique=True),
    # asked -> refused | uploading -> received | failed
    Column("state", String(12), nullable=False),
    Column("detail", String(255), nullable=False, server_default=""),
    Column("file_name", String(255), nullable=False, server_default=""),
    Column("size_bytes", RowId, nullable=False, server_default="0"),
    Column("sha256", String(64), nullable=False, server_default=""),
    Column("asked_at", Instant, nullable=False),
    Column("asked_by", String(80), nullable=False, server_default=""),
    Column("received_at", Instant, nullable=True),
    sqlite_autoincrement=True,
)
Index("ix_station_log_station", station_log.c.station_id)
