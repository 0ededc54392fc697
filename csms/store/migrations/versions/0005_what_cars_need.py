"""What cars need and when"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Instant, RowId

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "member_need",
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("days", sa.String(length=7), nullable=False),
        sa.Column("leaves_at", sa.String(length=5), nullable=False),
        sa.Column("energy_wh", sa.Integer(), nullable=True),
        sa.Column("to_percent", sa.Integer(), nullable=True),
        sa.Column("battery_wh", sa.Integer(), nullable=True),
        sa.Column("changed_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_member_need_member_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("member_id", name=op.f("pk_member_need")),
    )
    op.create_table(
        "session_need",
        sa.Column("session_id", RowId, autoincrement=False, nullable=False),
        sa.Column("departure", Instant(), nullable=True),
        sa.Column("energy_wh", sa.Integer(), nullable=True),
        sa.Column("to_percent", sa.Integer(), nullable=True),
        sa.Column("battery_wh", sa.Integer(), nullable=True),
        sa.Column("soc_percent", sa.Integer(), nullable=True),
        sa.Column("at_energy_wh", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("changed_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_session_need_session_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("session_id", name=op.f("pk_session_need")),
    )
    op.create_table(
        "car_need",
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("evse", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("told_at", Instant(), nullable=False),
        sa.Column("departure", Instant(), nullable=True),
        sa.Column("energy_wh", sa.Integer(), nullable=True),
        sa.Column("battery_wh", sa.Integer(), nullable=True),
        sa.Column("soc_percent", sa.Integer(), nullable=True),
        sa.Column("to_percent", sa.Integer(), nullable=True),
        sa.Column("session_id", sa.BigInteger(), nullable=True),
        sa.Column("at_energy_wh", sa.BigInteger(), server_default="0", nullable=False),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_car_need_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("station_id", "evse", name=op.f("pk_car_need")),
    )
    op.create_table(
        "site_price",
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("start_at", Instant(), nullable=False),
        sa.Column("end_at", Instant(), nullable=False),
        sa.Column("per_kwh_micro", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_id"], ["site.id"], name=op.f("fk_site_price_site_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("site_id", "start_at", name=op.f("pk_site_price")),
    )
    op.create_table(
        "base_sample",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("circuit_id", sa.String(length=40), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("l1_ma", sa.Integer(), nullable=False),
        sa.Column("l2_ma", sa.Integer(), nullable=False),
        sa.Column("l3_ma", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["circuit_id"], ["circuit.id"], name=op.f("fk_base_sample_circuit_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_base_sample")),
    )
    op.create_index("ix_base_sample", "base_sample", ["circuit_id", "at"], unique=True)


def downgrade() -> None:
    op.drop_index("ix_base_sample", table_name="base_sample")
    for table in ("base_sample", "site_price", "car_need", "session_need", "member_need"):
        op.drop_table(table)
