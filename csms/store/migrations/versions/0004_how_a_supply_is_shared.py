"""How a supply is shared"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("site", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("strategy", sa.String(length=20), server_default="weighted", nullable=False)
        )
        batch_op.add_column(
            sa.Column("fairness", sa.String(length=20), server_default="amperes", nullable=False)
        )


def downgrade() -> None:
    with op.batch_alter_table("site", schema=None) as batch_op:
        batch_op.drop_column("fairness")
        batch_op.drop_column("strategy")
