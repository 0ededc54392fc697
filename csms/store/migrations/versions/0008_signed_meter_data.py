"""Signed meter data, factors of emission, locations, and what became of orphan steps"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Document, Instant, RowId

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "meter_key",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("serial", sa.String(length=64), nullable=False),
        sa.Column("key_hex", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("curve", sa.String(length=40), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("valid_from", Instant(), nullable=True),
        sa.Column("valid_to", Instant(), nullable=True),
        sa.Column("note", sa.String(length=254), server_default="", nullable=False),
        sa.Column("source", sa.String(length=120), server_default="", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("confirmed_at", Instant(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_meter_key")),
        sa.UniqueConstraint("serial", "fingerprint", name=op.f("uq_meter_key_serial_fingerprint")),
    )
    op.create_table(
        "signed_record",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("evse", sa.Integer(), nullable=True),
        sa.Column("session_id", sa.BigInteger(), nullable=True),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("context", sa.String(length=20), nullable=False),
        sa.Column("received", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.Column("encoding", sa.String(length=50), server_default="", nullable=False),
        sa.Column("signing", sa.String(length=50), server_default="", nullable=False),
        sa.Column("public_key", sa.Text(), server_default="", nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("serial", sa.String(length=64), nullable=True),
        sa.Column("verdict", sa.String(length=16), nullable=False),
        sa.Column("reasons", Document, nullable=True),
        sa.Column("key_id", sa.String(length=40), nullable=True),
        sa.Column("judged_at", Instant(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signed_record")),
    )
    op.create_index("uq_signed_record", "signed_record", ["session_id", "digest"], unique=True)
    op.create_index("ix_signed_record_digest", "signed_record", ["digest"])
    op.create_index("ix_signed_record_serial", "signed_record", ["serial"])
    op.create_index("ix_signed_record_verdict", "signed_record", ["verdict", "id"])
    op.create_table(
        "signed_proof",
        sa.Column("session_id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("result", sa.String(length=16), nullable=False),
        sa.Column("reasons", Document, nullable=False),
        sa.Column("energy_mwh", sa.BigInteger(), nullable=True),
        sa.Column("serial", sa.String(length=64), server_default="", nullable=False),
        sa.Column("judged_at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("session_id", name=op.f("pk_signed_proof")),
    )
    op.create_table(
        "emission_factor",
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("from_at", Instant(), nullable=False),
        sa.Column("to_at", Instant(), nullable=False),
        sa.Column("mg_per_kwh", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "from_at", name=op.f("pk_emission_factor")),
    )
    op.create_table(
        "site_location",
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("country_code", sa.String(length=2), nullable=False),
        sa.Column("party_id", sa.String(length=3), nullable=False),
        sa.Column("address", sa.String(length=45), nullable=False),
        sa.Column("city", sa.String(length=45), nullable=False),
        sa.Column("postal_code", sa.String(length=10), server_default="", nullable=False),
        sa.Column("country", sa.String(length=3), nullable=False),
        sa.Column("latitude", sa.String(length=10), nullable=False),
        sa.Column("longitude", sa.String(length=11), nullable=False),
        sa.Column("connector_standard", sa.String(length=30), nullable=False),
        sa.Column("connector_format", sa.String(length=6), nullable=False),
        sa.Column("changed_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_id"], ["site.id"], name=op.f("fk_site_location_site_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("site_id", name=op.f("pk_site_location")),
    )
    with op.batch_alter_table("orphan_step", schema=None) as batch_op:
        batch_op.add_column(sa.Column("resolved_at", Instant(), nullable=True))
        batch_op.add_column(sa.Column("resolved_by", sa.String(length=120), nullable=True))
        batch_op.add_column(sa.Column("session_id", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("note", sa.String(length=254), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("orphan_step", schema=None) as batch_op:
        for name in ("note", "session_id", "resolved_by", "resolved_at"):
            batch_op.drop_column(name)
    for table in ("site_location", "emission_factor", "signed_proof", "signed_record", "meter_key"):
        op.drop_table(table)
