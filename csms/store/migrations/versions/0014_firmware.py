"""Firmware and logs of stations"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Instant, RowId

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "firmware_image",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("vendor", sa.String(length=120), server_default="", nullable=False),
        sa.Column("model", sa.String(length=120), server_default="", nullable=False),
        sa.Column("version", sa.String(length=120), nullable=False),
        sa.Column("signing_certificate", sa.Text(), server_default="", nullable=False),
        sa.Column("signature", sa.Text(), server_default="", nullable=False),
        sa.Column("sha256", sa.String(length=64), server_default="", nullable=False),
        sa.Column("size_bytes", RowId, server_default="0", nullable=False),
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_firmware_image")),
        sa.UniqueConstraint("token", name=op.f("uq_firmware_image_token")),
    )
    op.create_table(
        "firmware_campaign",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("image_id", sa.String(length=40), nullable=False),
        sa.Column("canaries", sa.Integer(), nullable=False),
        sa.Column("at_once", sa.Integer(), nullable=False),
        sa.Column("from_local", sa.String(length=5), nullable=False),
        sa.Column("to_local", sa.String(length=5), nullable=False),
        sa.Column("most_failed", sa.Float(), nullable=False),
        sa.Column("look_after", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("forgiven", sa.Integer(), server_default="0", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("created_by", sa.String(length=80), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["image_id"], ["firmware_image.id"], name=op.f("fk_firmware_campaign_image_id")
        ),
        sa.ForeignKeyConstraint(
            ["site_id"], ["site.id"], name=op.f("fk_firmware_campaign_site_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_firmware_campaign")),
    )
    op.create_table(
        "firmware_update",
        sa.Column("request_id", RowId, autoincrement=True, nullable=False),
        sa.Column("campaign_id", sa.String(length=40), nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("detail", sa.String(length=255), server_default="", nullable=False),
        sa.Column("canary", sa.Boolean(), nullable=False),
        sa.Column("changed_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["campaign_id"],
            ["firmware_campaign.id"],
            name=op.f("fk_firmware_update_campaign_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_firmware_update_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("request_id", name=op.f("pk_firmware_update")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_firmware_update_campaign", "firmware_update", ["campaign_id"], unique=False)
    op.create_index("ix_firmware_update_station", "firmware_update", ["station_id", "state"], unique=False)
    op.create_table(
        "station_log",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("detail", sa.String(length=255), server_default="", nullable=False),
        sa.Column("file_name", sa.String(length=255), server_default="", nullable=False),
        sa.Column("size_bytes", RowId, server_default="0", nullable=False),
        sa.Column("sha256", sa.String(length=64), server_default="", nullable=False),
        sa.Column("asked_at", Instant(), nullable=False),
        sa.Column("asked_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("received_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_station_log_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station_log")),
        sa.UniqueConstraint("token", name=op.f("uq_station_log_token")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_station_log_station", "station_log", ["station_id"], unique=False)


def downgrade() -> None:
    op.drop_table("station_log")
    op.drop_table("firmware_update")
    op.drop_table("firmware_campaign")
    op.drop_table("firmware_image")
