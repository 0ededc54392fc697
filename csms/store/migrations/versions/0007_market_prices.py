"""Market prices"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Document, Instant

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "market_feed",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("area", sa.String(length=20), nullable=True),
        sa.Column("sequence", sa.Integer(), nullable=True),
        sa.Column("minutes", sa.Integer(), nullable=True),
        sa.Column("source", Document, nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("checked_at", Instant(), nullable=True),
        sa.Column("fault", sa.Text(), server_default="", nullable=False),
        sa.Column("fault_at", Instant(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_market_feed")),
    )
    op.create_table(
        "market_document",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("feed_id", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("mrid", sa.String(length=60), nullable=True),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("made_at", Instant(), nullable=True),
        sa.Column("received_at", Instant(), nullable=False),
        sa.Column("start_at", Instant(), nullable=False),
        sa.Column("end_at", Instant(), nullable=False),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["feed_id"], ["market_feed.id"], name=op.f("fk_market_document_feed_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_market_document")),
        sa.UniqueConstraint("feed_id", "sha256", name="uq_market_document_content"),
        sa.UniqueConstraint("feed_id", "mrid", "revision", name="uq_market_document_revision"),
    )
    op.create_index("ix_market_document_feed", "market_document", ["feed_id", "start_at"])
    op.create_table(
        "market_price",
        sa.Column("document_id", sa.String(length=40), nullable=False),
        sa.Column("start_at", Instant(), nullable=False),
        sa.Column("end_at", Instant(), nullable=False),
        sa.Column("micro_per_mwh", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["document_id"], ["market_document.id"], name=op.f("fk_market_price_document_id")
        ),
        sa.PrimaryKeyConstraint("document_id", "start_at", name=op.f("pk_market_price")),
    )


def downgrade() -> None:
    op.drop_table("market_price")
    op.drop_index("ix_market_document_feed", table_name="market_document")
    op.drop_table("market_document")
    op.drop_table("market_feed")
