"""Tariffs for guests"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("tariff_assignment", sa.Column("guests", sa.Boolean(), server_default="0", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("tariff_assignment", schema=None) as batch_op:
        batch_op.drop_column("guests")
