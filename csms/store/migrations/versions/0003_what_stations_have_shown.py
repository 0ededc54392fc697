"""What stations have shown that they can do, and the fallback that they hold"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("offer") as offer:
        offer.add_column(sa.Column("stored_ma", sa.Integer(), nullable=True))
        offer.add_column(sa.Column("takes_zero", sa.Boolean(), nullable=True))
        offer.add_column(sa.Column("kept", sa.Boolean(), nullable=True))


def downgrade() -> None:
    op.drop_column("offer", "kept")
    op.drop_column("offer", "takes_zero")
    op.drop_column("offer", "stored_ma")
