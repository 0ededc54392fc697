"""Planned places by serial number, checks of the wiring, caps by time of day"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Document

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("station") as station:
        station.add_column(
            sa.Column("expected_serial", sa.String(length=255), server_default="", nullable=False)
        )
        station.add_column(sa.Column("wiring_check", Document, nullable=True))
        station.create_index("ix_station_expected_serial", ["expected_serial"])
    with op.batch_alter_table("circuit") as circuit:
        circuit.add_column(sa.Column("caps", Document, nullable=True))


def downgrade() -> None:
    # Not by batch: on SQLite that makes the table anew, and what refers to it would go with the old one.
    op.drop_column("circuit", "caps")
    op.drop_index("ix_station_expected_serial", table_name="station")
    op.drop_column("station", "wiring_check")
    op.drop_column("station", "expected_serial")
