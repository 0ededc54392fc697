"""Certificates and security"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Instant, RowId

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "station_certificate",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("use", sa.String(length=24), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("common_name", sa.String(length=64), nullable=False),
        sa.Column("serial_number", sa.String(length=64), nullable=False),
        sa.Column("chain_pem", sa.Text(), nullable=False),
        sa.Column("not_after", Instant(), nullable=False),
        sa.Column("signed_at", Instant(), nullable=False),
        sa.Column("detail", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_station_certificate_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station_certificate")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_station_certificate_station", "station_certificate", ["station_id"], unique=False)
    op.create_table(
        "station_security",
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("in_use", sa.Integer(), nullable=True),
        sa.Column("wanted", sa.Integer(), nullable=True),
        sa.Column("step", sa.String(length=24), server_default="", nullable=False),
        sa.Column("detail", sa.Text(), server_default="", nullable=False),
        sa.Column("changed_at", Instant(), nullable=True),
        sa.Column("next_key_salt", sa.LargeBinary(), nullable=True),
        sa.Column("next_key_hash", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_station_security_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("station_id", name=op.f("pk_station_security")),
    )


def downgrade() -> None:
    op.drop_table("station_security")
    op.drop_table("station_certificate")
