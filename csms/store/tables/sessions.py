"""Sessions: one charge, plug-in to plug-out."""

from sqlalchemy import BigInteger, Boolean, Column, ForeignKey, Index, Integer, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Document, Instant, RowId

session = Table(
    "session",
    metadata,
    # Also the transaction id that an OCPP 1.6 station is given: unique over the whole system.
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", ForeignKey("station.id"), nullable=False),
    Column("site_id", ForeignKey("site.id"), nullable=True),
    Column("evse", Integer, nullable=True),
    Column("connector", Integer, nullable=True),
    # What recognises a repeat: the station's own id, or what a start without one consists of.
    Column("transaction_id", String(64), nullable=True),
    Column("start_key", String(400), nullable=True),
    Column("remote_start_id", Integer, nullable=True),
    Column("state", String(16), nullable=False),
    Column("charging", String(16), nullable=False, server_default="idle"),
    # Who: the token as presented, and what it belonged to at the start.
    Column("token_folded", String(255), nullable=False, server_default=""),
    Column("token_text", String(255), nullable=False, server_default=""),
    Column("token_id", String(40), nullable=True),
    Column("member_id", String(40), nullable=True),
    Column("verdict", String(20), nullable=False, server_default=""),
    Column("verdict_reason", String(40), nullable=False, server_default=""),
    # When: by the station's clock, and when the first message of it arrived.
    Column("started_at", Instant, nullable=False),
    Column("ended_at", Instant, nullable=True),
    Column("arrived_at", Instant, nullable=False),
    Column("stop_reason", String(20), nullable=True),
    # What: registers as told, and the energy that they and the readings give.
    Column("register_start_wh", BigInteger, nullable=True),
    Column("register_last_wh", BigInteger, nullable=True),
    Column("register_last_at", Instant, nullable=True),
    Column("register_stop_wh", BigInteger, nullable=True),
    Column("energy_wh", BigInteger, nullable=False, server_default="0"),
    Column("last_sequence", Integer, nullable=True),
    # Marks such as "register_reset", "no_start_seen", "estimated".
    Column("marks", Document, nullable=False),
    # Money, once priced: minor units of `currency`.
    Column("tariff_id", String(40), nullable=True),
    Column("currency", String(3), nullable=True),
    Column("cost_excl_minor", BigInteger, nullable=True),
    Column("cost_incl_minor", BigInteger, nullable=True),
    Column("cost_lines", Document, nullable=True),
    sqlite_autoincrement=True,
)
Index("uq_session_transaction", session.c.station_id, session.c.transaction_id, unique=True)
Index("uq_session_start_key", session.c.station_id, session.c.start_key, unique=True)
Index("ix_session_site_started", session.c.site_id, session.c.started_at)
Index("ix_session_member", session.c.member_id)
Index("ix_session_state", session.c.state)

session_pause = Table(
    "session_pause",
    metadata,
    Column("session_id", ForeignKey("session.id", ondelete="CASCADE"), primary_key=True),
    Column("from_at", Instant, primary_key=True),
    Column("to_at", Instant, nullable=True),
    # by_us: the sharing of the supply held it; else the vehicle asked for nothing.
    Column("by_us", Boolean, primary_key=True),
)

orphan_step = Table(
    "orphan_step",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("station_id", String(48), nullable=False),
    Column("at", Instant, nullable=False),
    Column("arrived_at", Instant, nullable=False),
    Column("reason", String(255), nullable=False),
    Column("body", Document, nullable=False),
    # What a person made of it: put into a session, or dismissed (no session) with a note.
    Column("resolved_at", Instant, nullable=True),
    Column("resolved_by", String(120), nullable=True),
    Column("session_id", BigInteger, nullable=True),
    Column("note", String(254), nullable=True),
    sqlite_autoincrement=True,
)
