"""What we have promised to each EVSE, written before it is sent; and caps from outside."""

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, String, Table

from csms.store.tables.base import metadata
from csms.store.types import Instant, RowId

offer = Table(
    "offer",
    metadata,
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), primary_key=True),
    Column("evse", Integer, primary_key=True, autoincrement=False),
    Column("site_id", String(40), nullable=False, index=True),
    # No live offer of ours is above this, until the last of them has surely lapsed.
    Column("promised_ma", Integer, nullable=False),
    Column("lapses_at", Instant, nullable=False),
    # The live offer last sent, for people.
    Column("asked_ma", Integer, nullable=False),
    Column("accepted", Boolean, nullable=False),
    Column("asked_at", Instant, nullable=False),
    # Whether the station has confirmed that it keeps its fallback.
    Column("fallback_stored", Boolean, nullable=True),
    # The fallback that it has taken last; another than its records say after those were changed.
    Column("stored_ma", Integer, nullable=True),
    # What it has shown: takes an offer of 0 A; still held its default after it had started anew.
    Column("takes_zero", Boolean, nullable=True),
    Column("kept", Boolean, nullable=True),
    # Takes an offer with the fallback after it; what may follow the live offers so, and from when.
    Column("follows", Boolean, nullable=True),
    Column("then_ma", Integer, nullable=True),
    # The station's own line that the live offers name, where one was chosen.
    Column("line", Integer, nullable=True),
    Column("then_from", Instant, nullable=True),
    # The self-ending default of 0 A of an idle EVSE: when it may end, and when it surely has.
    Column("idle_may_end_at", Instant, nullable=True),
    Column("idle_ends_at", Instant, nullable=True),
)

cap_signal = Table(
    "cap_signal",
    metadata,
    Column("id", RowId, primary_key=True, autoincrement=True),
    Column("circuit_id", ForeignKey("circuit.id", ondelete="CASCADE"), nullable=False),
    Column("site_id", String(40), nullable=False),
    # At most so much over all lines, from one instant to before the other.
    Column("cap_w", Integer, nullable=False),
    Column("from_at", Instant, nullable=False),
    Column("until_at", Instant, nullable=False),
    # Who asked for it and why, in their words.
    Column("reason", String(200), nullable=False),
    Column("created_at", Instant, nullable=False),
    Column("created_by", String(120), nullable=False),
    Column("withdrawn_at", Instant, nullable=True),
)
Index("ix_cap_signal_site", cap_signal.c.site_id, cap_signal.c.until_at)
