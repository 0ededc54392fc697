"""Alarms"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Document, Instant, RowId

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "alarm",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("thing", sa.String(length=160), nullable=False),
        sa.Column("open_key", sa.String(length=201), nullable=True),
        sa.Column("severity", sa.String(length=10), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=True),
        sa.Column("station_id", sa.String(length=48), nullable=True),
        sa.Column("evse", sa.Integer(), nullable=True),
        sa.Column("circuit_id", sa.String(length=40), nullable=True),
        sa.Column("detail", Document, nullable=False),
        sa.Column("began_at", Instant(), nullable=False),
        sa.Column("due_at", Instant(), nullable=True),
        sa.Column("raised_at", Instant(), nullable=True),
        sa.Column("last_at", Instant(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("acknowledged_at", Instant(), nullable=True),
        sa.Column("acknowledged_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("cleared_at", Instant(), nullable=True),
        sa.Column("cleared_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("fact", RowId, server_default="0", nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_alarm_site_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alarm")),
        sa.UniqueConstraint("open_key", name=op.f("uq_alarm_open_key")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_alarm_key", "alarm", ["kind", "thing"], unique=False)
    op.create_index("ix_alarm_state", "alarm", ["state", "site_id"], unique=False)
    op.create_index("ix_alarm_station", "alarm", ["station_id"], unique=False)
    op.create_table(
        "alarm_route",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=True),
        sa.Column("channel", sa.String(length=10), nullable=False),
        sa.Column("address", sa.String(length=500), nullable=False),
        sa.Column("lowest", sa.String(length=10), nullable=False),
        sa.Column("after_s", sa.Integer(), server_default="0", nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("secret", sa.String(length=120), server_default="", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_id"], ["site.id"], name=op.f("fk_alarm_route_site_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alarm_route")),
    )
    op.create_table(
        "alarm_delivery",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("alarm_id", RowId, nullable=False),
        sa.Column("route_id", sa.String(length=40), nullable=True),
        sa.Column("channel", sa.String(length=10), nullable=False),
        sa.Column("address", sa.String(length=500), nullable=False),
        sa.Column("occasion", sa.String(length=10), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("next_at", Instant(), nullable=False),
        sa.Column("error", sa.String(length=255), server_default="", nullable=False),
        sa.Column("sent_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(
            ["alarm_id"], ["alarm.id"], name=op.f("fk_alarm_delivery_alarm_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["route_id"], ["alarm_route.id"], name=op.f("fk_alarm_delivery_route_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alarm_delivery")),
        sa.UniqueConstraint(
            "alarm_id",
            "address",
            "occasion",
            "route_id",
            name=op.f("uq_alarm_delivery_alarm_id_address_occasion_route_id"),
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_alarm_delivery_due", "alarm_delivery", ["state", "next_at"], unique=False)
    op.create_table(
        "self_test",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("evse", sa.Integer(), server_default="0", nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("source", sa.String(length=10), nullable=False),
        sa.Column("detail", sa.String(length=255), server_default="", nullable=False),
        sa.Column("written_by", sa.String(length=80), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_self_test_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_self_test")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_self_test_station", "self_test", ["station_id", "at"], unique=False)


def downgrade() -> None:
    op.drop_table("self_test")
    op.drop_table("alarm_delivery")
    op.drop_table("alarm_route")
    op.drop_table("alarm")
