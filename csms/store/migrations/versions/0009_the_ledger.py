"""The ledger: ownerships, invoices to share, runs, statements, entries and payments"""

from datetime import timedelta

import sqlalchemy as sa
from alembic import op

from csms.ids import new_id
from csms.store.tables.ledger import APPEND_ONLY
from csms.store.types import Document, Instant, RowId

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "billing_terms",
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("terms", sa.Text(), nullable=False),
        sa.Column("changed_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_billing_terms_site_id")),
        sa.PrimaryKeyConstraint("site_id", name=op.f("pk_billing_terms")),
    )
    op.create_table(
        "ledger_entry",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("account", sa.String(length=12), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=True),
        sa.Column("period", sa.String(length=7), nullable=True),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("line_kind", sa.String(length=20), server_default="", nullable=False),
        sa.Column("reference", sa.String(length=80), server_default="", nullable=False),
        sa.Column("vat_category", sa.String(length=2), server_default="", nullable=False),
        sa.Column("vat_percent", sa.String(length=10), nullable=True),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("booked_at", Instant(), nullable=False),
        sa.Column("run_id", sa.String(length=40), nullable=True),
        sa.Column("statement_id", sa.String(length=40), nullable=True),
        sa.Column("payment_id", sa.String(length=40), nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_ledger_entry_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger_entry")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_ledger_entry_member", "ledger_entry", ["member_id"], unique=False)
    op.create_index("ix_ledger_entry_site", "ledger_entry", ["site_id", "period"], unique=False)
    op.create_index("ix_ledger_entry_statement", "ledger_entry", ["statement_id"], unique=False)
    op.create_table(
        "number_series",
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("series", sa.String(length=20), nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_number_series_site_id")),
        sa.PrimaryKeyConstraint("site_id", "series", name=op.f("pk_number_series")),
    )
    op.create_table(
        "pool",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("supplier", sa.String(length=120), server_default="", nullable=False),
        sa.Column("invoice", sa.String(length=120), server_default="", nullable=False),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("vat_minor", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("vat_percent", sa.String(length=10), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("period_start", sa.Date(), nullable=False),
        sa.Column("period_end", sa.Date(), nullable=False),
        sa.Column("key", sa.String(length=20), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_pool_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pool")),
    )
    op.create_index("ix_pool_site", "pool", ["site_id", "period_start"], unique=False)
    op.create_table(
        "statement_run",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("period", sa.String(length=7), nullable=False),
        sa.Column("issued_at", Instant(), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("rule_version", sa.String(length=20), nullable=False),
        sa.Column("inputs", sa.LargeBinary(), nullable=False),
        sa.Column("inputs_hash", sa.String(length=64), nullable=False),
        sa.Column("seen", Document, nullable=False),
        sa.Column("proof", Document, nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_statement_run_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_statement_run")),
        sa.UniqueConstraint("site_id", "period", name=op.f("uq_statement_run_site_id_period")),
    )
    op.create_table(
        "supply_register",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("register_wh", sa.BigInteger(), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_supply_register_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supply_register")),
        sa.UniqueConstraint("site_id", "serial", "at", name=op.f("uq_supply_register_site_id_serial_at")),
    )
    op.create_table(
        "member_address",
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("lines", Document, nullable=False),
        sa.Column("language", sa.String(length=5), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_member_address_member_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("member_id", name=op.f("pk_member_address")),
    )
    op.create_table(
        "payment",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("paid_on", sa.Date(), nullable=False),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("reference", sa.String(length=120), nullable=False),
        sa.Column("note", sa.String(length=254), server_default="", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_payment_member_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_payment_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payment")),
        sa.UniqueConstraint("site_id", "reference", name=op.f("uq_payment_site_id_reference")),
    )
    op.create_index("ix_payment_member", "payment", ["member_id"], unique=False)
    op.create_table(
        "statement",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("run_id", sa.String(length=40), nullable=True),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("series", sa.String(length=20), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=False),
        sa.Column("period", sa.String(length=7), nullable=False),
        sa.Column("issued_at", Instant(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("net_minor", sa.BigInteger(), nullable=False),
        sa.Column("vat_minor", sa.BigInteger(), nullable=False),
        sa.Column("gross_minor", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("upto_entry", sa.BigInteger(), nullable=False),
        sa.Column("corrects_id", sa.String(length=40), nullable=True),
        sa.Column("replaces_id", sa.String(length=40), nullable=True),
        sa.ForeignKeyConstraint(["corrects_id"], ["statement.id"], name=op.f("fk_statement_corrects_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_statement_member_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["statement.id"], name=op.f("fk_statement_replaces_id")),
        sa.ForeignKeyConstraint(["run_id"], ["statement_run.id"], name=op.f("fk_statement_run_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_statement_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_statement")),
        sa.UniqueConstraint("corrects_id", name=op.f("uq_statement_corrects_id")),
        sa.UniqueConstraint(
            "site_id", "series", "sequence", name=op.f("uq_statement_site_id_series_sequence")
        ),
    )
    op.create_index("ix_statement_member", "statement", ["member_id"], unique=False)
    op.create_index("ix_statement_site_period", "statement", ["site_id", "period"], unique=False)
    op.create_table(
        "ownership",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("token_id", sa.String(length=40), nullable=True),
        sa.Column("station_id", sa.String(length=48), nullable=True),
        sa.Column("evse", sa.Integer(), nullable=True),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("from_at", Instant(), nullable=True),
        sa.Column("to_at", Instant(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_ownership_member_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_ownership_site_id")),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_ownership_station_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["token_id"], ["token.id"], name=op.f("fk_ownership_token_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ownership")),
    )
    op.create_index("ix_ownership_member", "ownership", ["member_id"], unique=False)
    op.create_index("ix_ownership_site", "ownership", ["site_id"], unique=False)
    op.create_index("ix_ownership_token", "ownership", ["token_id"], unique=False)

    _own_the_tokens_there_are()
    _refuse_changes()


def _own_the_tokens_there_are() -> None:
    """Each token is its member's: since ever, or from behind its last session that was another's."""
    token = sa.table("token", sa.column("id"), sa.column("member_id"), sa.column("created_at", Instant()))
    member = sa.table("member", sa.column("id"), sa.column("site_id"))
    session = sa.table(
        "session", sa.column("token_id"), sa.column("member_id"), sa.column("started_at", Instant())
    )
    ownership = sa.table(
        "ownership",
        *(sa.column(name) for name in ("id", "site_id", "token_id", "member_id")),
        *(sa.column(name, Instant()) for name in ("from_at", "created_at")),
    )
    last_of_another = (
        sa.select(sa.func.max(session.c.started_at, type_=Instant()))
        .where(session.c.token_id == token.c.id, session.c.member_id != token.c.member_id)
        .scalar_subquery()
    )
    query = sa.select(token, member.c.site_id, last_of_another.label("another")).join(
        member, member.c.id == token.c.member_id
    )
    for row in op.get_bind().execute(query).all():
        since = None if row.another is None else row.another + timedelta(seconds=1)
        values = {
            "id": new_id("own"),
            "site_id": row.site_id,
            "token_id": row.id,
            "member_id": row.member_id,
            "from_at": since,
            "created_at": row.created_at,
        }
        op.get_bind().execute(sa.insert(ownership).values(values))


def _refuse_changes() -> None:
    """Booked is booked: the database itself refuses to change or remove what is append-only."""
    sqlite = op.get_bind().dialect.name == "sqlite"
    if not sqlite:
        op.execute(
            "CREATE FUNCTION append_only() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'append-only: %', TG_TABLE_NAME; END $$"
        )
    for table in APPEND_ONLY:
        for change in ("UPDATE", "DELETE"):
            name = f"{table}_no_{change.lower()}"
            body = (
                f"BEGIN SELECT RAISE(ABORT, 'append-only: {table}'); END"
                if sqlite
                else "FOR EACH ROW EXECUTE FUNCTION append_only()"
            )
            op.execute(f"CREATE TRIGGER {name} BEFORE {change} ON {table} {body}")


def downgrade() -> None:
    if op.get_bind().dialect.name != "sqlite":
        for table in APPEND_ONLY:
            for change in ("update", "delete"):
                op.execute(f"DROP TRIGGER {table}_no_{change} ON {table}")
        op.execute("DROP FUNCTION append_only()")
    else:
        # Dropping a table deletes its rows first where foreign keys are checked.
        for table in APPEND_ONLY:
            for change in ("update", "delete"):
                op.execute(f"DROP TRIGGER {table}_no_{change}")
    op.drop_index("ix_ownership_token", table_name="ownership")
    op.drop_index("ix_ownership_site", table_name="ownership")
    op.drop_index("ix_ownership_member", table_name="ownership")
    op.drop_table("ownership")
    op.drop_index("ix_statement_site_period", table_name="statement")
    op.drop_index("ix_statement_member", table_name="statement")
    op.drop_table("statement")
    op.drop_index("ix_payment_member", table_name="payment")
    op.drop_table("payment")
    op.drop_table("member_address")
    op.drop_table("supply_register")
    op.drop_table("statement_run")
    op.drop_index("ix_pool_site", table_name="pool")
    op.drop_table("pool")
    op.drop_table("number_series")
    op.drop_index("ix_ledger_entry_statement", table_name="ledger_entry")
    op.drop_index("ix_ledger_entry_site", table_name="ledger_entry")
    op.drop_index("ix_ledger_entry_member", table_name="ledger_entry")
    op.drop_table("ledger_entry")
    op.drop_table("billing_terms")
