"""Caps from outside; and what follows an offer in a station"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Instant, RowId

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "cap_signal",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("circuit_id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("cap_w", sa.Integer(), nullable=False),
        sa.Column("from_at", Instant(), nullable=False),
        sa.Column("until_at", Instant(), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("created_by", sa.String(length=120), nullable=False),
        sa.Column("withdrawn_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(
            ["circuit_id"],
            ["circuit.id"],
            name=op.f("fk_cap_signal_circuit_id_circuit"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cap_signal")),
    )
    with op.batch_alter_table("cap_signal", schema=None) as batch_op:
        batch_op.create_index("ix_cap_signal_site", ["site_id", "until_at"], unique=False)
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.add_column(sa.Column("follows", sa.Boolean(), nullable=True))
        batch_op.add_column(sa.Column("then_ma", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("line", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("then_from", Instant(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.drop_column("then_from")
        batch_op.drop_column("line")
        batch_op.drop_column("then_ma")
        batch_op.drop_column("follows")
    op.drop_table("cap_signal")
