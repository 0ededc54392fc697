"""Quirks of models of stations, and frames that are replayed"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Instant, RowId

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "station_quirk",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("vendor", sa.String(length=255), nullable=False),
        sa.Column("model", sa.String(length=255), nullable=False),
        sa.Column("firmware", sa.String(length=255), nullable=False),
        sa.Column("energy_factor", sa.Float(), nullable=False),
        sa.Column("power_factor", sa.Float(), nullable=False),
        sa.Column("current_factor", sa.Float(), nullable=False),
        sa.Column("zone", sa.String(length=64), nullable=False),
        sa.Column("false_z", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=255), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station_quirk")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "station_manner",
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("assume_16", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_station_manner_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("station_id", name=op.f("pk_station_manner")),
    )
    with op.batch_alter_table("quarantine") as batch:
        batch.add_column(sa.Column("replayed_at", Instant(), nullable=True))
        batch.add_column(sa.Column("outcome", sa.String(length=255), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("quarantine") as batch:
        batch.drop_column("outcome")
        batch.drop_column("replayed_at")
    op.drop_table("station_manner")
    op.drop_table("station_quirk")
