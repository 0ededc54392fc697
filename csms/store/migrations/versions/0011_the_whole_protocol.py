"""What more of the protocol is kept"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Document, Instant, RowId

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "station_report",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("evse", sa.BigInteger(), nullable=True),
        sa.Column("request_id", sa.BigInteger(), nullable=True),
        sa.Column("body", Document, nullable=False),
        sa.ForeignKeyConstraint(
            ["station_id"],
            ["station.id"],
            name=op.f("fk_station_report_station_id_station"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station_report")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("station_report", schema=None) as batch_op:
        batch_op.create_index("ix_station_report_kind", ["station_id", "kind", "id"], unique=False)


def downgrade() -> None:
    op.drop_table("station_report")
