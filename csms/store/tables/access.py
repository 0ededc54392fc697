"""Members, groups, tokens and the rights between them and the stations."""

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, String, Table, UniqueConstraint

from csms.store.tables.base import metadata
from csms.store.types import Instant

member = Table(
    "member",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("kind", String(10), nullable=False),  # flat, person, vehicle
    Column("name", String(120), nullable=False),
    Column("email", String(254), nullable=False, server_default=""),
    Column("active", Boolean, nullable=False),
    Column("created_at", Instant, nullable=False),
    UniqueConstraint("site_id", "name"),
)

member_group = Table(
    "member_group",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("name", String(120), nullable=False),
    # Priority class and weight when the supply is short (csms.power).
    Column("priority", Integer, nullable=False, server_default="0"),
    Column("weight_milli", Integer, nullable=False, server_default="1000"),
    Column("created_at", Instant, nullable=False),
    UniqueConstraint("site_id", "name"),
)

membership = Table(
    "membership",
    metadata,
    Column("group_id", ForeignKey("member_group.id", ondelete="CASCADE"), primary_key=True),
    Column("member_id", ForeignKey("member.id", ondelete="CASCADE"), primary_key=True),
)

token = Table(
    "token",
    metadata,
    Column("id", String(40), primary_key=True),
    # `folded` is what tokens are compared by; `text` is how it was first spelled.
    Column("folded", String(255), nullable=False, unique=True),
    Column("text", String(255), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("label", String(120), nullable=False, server_default=""),
    Column("member_id", ForeignKey("member.id"), nullable=False),
    # OCPP's parent or group token: cards of one group may stop each other's sessions.
    Column("group_text", String(255), nullable=False, server_default=""),
    Column("valid_from", Instant, nullable=True),
    Column("valid_to", Instant, nullable=True),
    Column("blocked", Boolean, nullable=False),
    Column("created_at", Instant, nullable=False),
)
Index("ix_token_member", token.c.member_id)

access_right = Table(
    "access_right",
    metadata,
    Column("id", String(40), primary_key=True),
    # Who: exactly one of the two.
    Column("member_id", ForeignKey("member.id", ondelete="CASCADE"), nullable=True),
    Column("group_id", ForeignKey("member_group.id", ondelete="CASCADE"), nullable=True),
    # Where: a station, else a circuit with all below it, else the whole site.
    Column("site_id", ForeignKey("site.id"), nullable=False),
    Column("circuit_id", ForeignKey("circuit.id", ondelete="CASCADE"), nullable=True),
    Column("station_id", ForeignKey("station.id", ondelete="CASCADE"), nullable=True),
    Column("created_at", Instant, nullable=False),
)
Index("ix_access_right_member", access_right.c.member_id)
Index("ix_access_right_group", access_right.c.group_id)

unknown_card = Table(
    "unknown_card",
    metadata,
    Column("folded", String(255), primary_key=True),
    Column("text", String(255), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("station_id", String(48), nullable=False),
    Column("evse", Integer, nullable=True),
    Column("first_seen_at", Instant, nullable=False),
    Column("last_seen_at", Instant, nullable=False),
    Column("times", Integer, nullable=False),
)
