"""Documents of a statement"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Instant

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "document_settings",
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("settings", sa.Text(), nullable=False),
        sa.Column("changed_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_document_settings_site_id")),
        sa.PrimaryKeyConstraint("site_id", name=op.f("pk_document_settings")),
    )
    op.create_table(
        "document_run",
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("period", sa.String(length=7), nullable=False),
        sa.Column("wanted_at", Instant(), nullable=False),
        sa.Column("done_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_document_run_site_id")),
        sa.PrimaryKeyConstraint("site_id", "period", name=op.f("pk_document_run")),
    )
    op.create_table(
        "document",
        sa.Column("statement_id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("period", sa.String(length=7), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=False),
        sa.Column("member_name", sa.String(length=120), nullable=False),
        sa.Column("problem", sa.Text(), server_default="", nullable=False),
        sa.Column("pdf", sa.LargeBinary(), nullable=True),
        sa.Column("hash", sa.String(length=64), server_default="", nullable=False),
        sa.Column("size", sa.Integer(), server_default="0", nullable=False),
        sa.Column("invoice", sa.LargeBinary(), nullable=True),
        sa.Column("electronic", sa.Boolean(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["statement_id"], ["statement.id"], name=op.f("fk_document_statement_id")),
        sa.PrimaryKeyConstraint("statement_id", name=op.f("pk_document")),
    )
    with op.batch_alter_table("document", schema=None) as batch_op:
        batch_op.create_index("ix_document_site", ["site_id", "period"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("document", schema=None) as batch_op:
        batch_op.drop_index("ix_document_site")
    op.drop_table("document")
    op.drop_table("document_run")
    op.drop_table("document_settings")
