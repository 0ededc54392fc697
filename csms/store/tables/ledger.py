"""Who owns what when, invoices to share, meters at the supply, runs, statements, entries, payments.

Runs, statements, entries and payments are append-only: triggers refuse to change or remove a row.
"""

from sqlalchemy import (
    BigInteger,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant, RowId

APPEND_ONLY = ("statement_run", "statement", "ledger_entry", "payment")
"""Tables whose rows stay as they were written."""

ownership = Table(
    "ownership",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    # What: a token, or a space (a station's EVSE; 0 stands for all of them).
    Column("token_id", ForeignKey("token.id", ondelete="CASCADE"), nullable=True),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=True),
    Column("evse", Integer, nullable=True),
    Column("member_id", ForeignKey("member.id"), nullable=False),
    # From inclusive, to exclusive; null: since ever, until further notice.
    Column("from_at", Instant, nullable=True),
    Column("to_at", Instant, nullable=True),
    Column("created_at", Instant, nullable=False),
)
Index("ix_ownership_site", ownership.c.site_id)
Index("ix_ownership_token", ownership.c.token_id)
Index("ix_ownership_member", ownership.c.member_id)

billing_terms = Table(
    "billing_terms",
    metadata,
    Column("site_id", ForeignKey("site.id"), primary_key=True),
    # csms.ledger.terms.Terms as JSON text.
    Column("terms", Text, nullable=False),
    Column("changed_at", Instant, nullable=False),
)

member_address = Table(
    "member_address",
    metadata,
    Column("member_id", ForeignKey("member.id", ondelete="CASCADE"), primary_key=True),
    Column("lines", Document, nullable=False),
    Column("language", String(5), nullable=False, server_default=""),
)

pool = Table(
    "pool",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("name", String(120), nullable=False),
    Column("supplier", String(120), nullable=False, server_default=""),
    Column("invoice", String(120), nullable=False, server_default=""),
    # Without VAT when the association is registered for it, else what was paid.
    Column("amount_minor", BigInteger, nullable=False),
    Column("vat_minor", BigInteger, nullable=False, server_default="0"),
    Column("vat_percent", String(10), nullable=True),
    Column("currency", String(3), nullable=False),
    # Local days, the end exclusive.
    Column("period_start", Date, nullable=False),
    Column("period_end", Date, nullable=False),
    Column("key", String(20), nullable=False),
    Column("created_at", Instant, nullable=False),
)
Index("ix_pool_site", pool.c.site_id, pool.c.period_start)

supply_register = Table(
    "supply_register",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    # The meter's serial number: another one means that the meter was changed.
    Column("serial", String(60), nullable=False),
    Column("at", Instant, nullable=False),
    Column("register_wh", BigInteger, nullable=False),
    Column("created_at", Instant, nullable=False),
    UniqueConstraint("site_id", "serial", "at"),
)

number_series = Table(
    "number_series",
    metadata,
    Column("site_id", ForeignKey("site.id"), primary_key=True),
    Column("series", String(20), primary_key=True),
    Column("last", Integer, nullable=False),
)

statement_run = Table(
    "statement_run",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("period", String(7), nullable=False),  # YYYY-MM
    Column("issued_at", Instant, nullable=False),
    Column("currency", String(3), nullable=False),
    Column("rule_version", String(20), nullable=False),
    # All that the statements were computed from: canonical JSON, zlib; the hash is of the JSON.
    Column("inputs", LargeBinary, nullable=False),
    Column("inputs_hash", String(64), nullable=False),
    # {period: digest of what it depends on}, for this period and those that were looked at again.
    Column("seen", Document, nullable=False),
    # Figures of the proof when it was issued.
    Column("proof", Document, nullable=False),
    UniqueConstraint("site_id", "period"),
)

statement = Table(
    "statement",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("run_id", ForeignKey("statement_run.id"), nullable=True),
    Column("member_id", ForeignKey("member.id"), nullable=False),
    Column("kind", String(12), nullable=False),
    Column("series", String(20), nullable=False),
    Column("sequence", Integer, nullable=False),
    Column("number", String(40), nullable=False),
    Column("period", String(7), nullable=False),
    Column("issued_at", Instant, nullable=False),
    Column("due_on", Date, nullable=True),
    Column("currency", String(3), nullable=False),
    Column("net_minor", BigInteger, nullable=False),
    Column("vat_minor", BigInteger, nullable=False),
    Column("gross_minor", BigInteger, nullable=False),
    # csms.ledger.statement.Statement as canonical text, and its SHA-256.
    Column("body", Text, nullable=False),
    Column("hash", String(64), nullable=False),
    # The last row of the ledger when it was issued: payments behind it are in the member's next document.
    Column("upto_entry", BigInteger, nullable=False),
    Column("corrects_id", ForeignKey("statement.id"), nullable=True),
    Column("replaces_id", ForeignKey("statement.id"), nullable=True),
    UniqueConstraint("site_id", "series", "sequence"),
    UniqueConstraint("corrects_id"),
)
Index("ix_statement_member", statement.c.member_id)
Index("ix_statement_site_period", statement.c.site_id, statement.c.period)

ledger_entry = Table(
    "ledger_entry",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    # member, guests, association
    Column("account", String(12), nullable=False),
    Column("member_id", String(40), nullable=True),
    # The month that the amount is about; null for payments.
    Column("period", String(7), nullable=True),
    # charge, vat, payment, share (of the association or of guests), income (of guests)
    Column("kind", String(12), nullable=False),
    # What is charged: a pool's id, a tariff's id, …
    Column("line_kind", String(20), nullable=False, server_default=""),
    Column("reference", String(80), nullable=False, server_default=""),
    Column("vat_category", String(2), nullable=False, server_default=""),
    Column("vat_percent", String(10), nullable=True),
    Column("amount_minor", BigInteger, nullable=False),
    Column("currency", String(3), nullable=False),
    Column("booked_at", Instant, nullable=False),
    Column("run_id", String(40), nullable=True),
    Column("statement_id", String(40), nullable=True),
    Column("payment_id", String(40), nullable=True),
    sqlite_autoincrement=True,
)
Index("ix_ledger_entry_member", ledger_entry.c.member_id)
Index("ix_ledger_entry_site", ledger_entry.c.site_id, ledger_entry.c.period)
Index("ix_ledger_entry_statement", ledger_entry.c.statement_id)

payment = Table(
    "payment",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("member_id", ForeignKey("member.id"), nullable=False),
    Column("paid_on", Date, nullable=False),
    Column("amount_minor", BigInteger, nullable=False),
    Column("currency", String(3), nullable=False),
    # The bank's own reference of the movement: the same one twice is one import too many.
    Column("reference", String(120), nullable=False),
    Column("note", String(254), nullable=False, server_default=""),
    Column("created_at", Instant, nullable=False),
    UniqueConstraint("site_id", "reference"),
)
Index("ix_payment_member", payment.c.member_id)
