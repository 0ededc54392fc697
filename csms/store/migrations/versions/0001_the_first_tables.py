"""The first tables"""

import sqlalchemy as sa
from alembic import op

from csms.store.types import Document, Instant, RowId

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "api_key",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("secret_hash", sa.LargeBinary(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("revoked", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("last_used_at", Instant(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_key")),
        sa.UniqueConstraint("name", name=op.f("uq_api_key_name")),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_api_key_secret_hash")),
    )
    op.create_table(
        "circuit_reading",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("circuit_id", sa.String(length=40), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("counts", sa.String(length=5), nullable=False),
        sa.Column("current_l1_ma", sa.Integer(), nullable=True),
        sa.Column("current_l2_ma", sa.Integer(), nullable=True),
        sa.Column("current_l3_ma", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_circuit_reading")),
    )
    with op.batch_alter_table("circuit_reading", schema=None) as batch_op:
        batch_op.create_index("ix_circuit_reading", ["circuit_id", "at"], unique=False)

    op.create_table(
        "orphan_step",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("arrived_at", Instant(), nullable=False),
        sa.Column("reason", sa.String(length=255), nullable=False),
        sa.Column("body", Document, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_orphan_step")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "outbox",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("topic", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=True),
        sa.Column("subject", sa.String(length=80), server_default="", nullable=False),
        sa.Column("body", Document, nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("handled_at", Instant(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("outbox", schema=None) as batch_op:
        batch_op.create_index("ix_outbox_site", ["site_id", "id"], unique=False)
        batch_op.create_index("ix_outbox_unhandled", ["handled_at", "id"], unique=False)

    op.create_table(
        "person",
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("password_hash", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_person")),
    )
    op.create_table(
        "quarantine",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("reason", sa.String(length=255), nullable=False),
        sa.Column("frame", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quarantine")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("quarantine", schema=None) as batch_op:
        batch_op.create_index("ix_quarantine_station", ["station_id", "at"], unique=False)

    op.create_table(
        "reading",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("evse", sa.Integer(), nullable=True),
        sa.Column("session_id", sa.BigInteger(), nullable=True),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("context", sa.String(length=20), nullable=False),
        sa.Column("register_wh", sa.BigInteger(), nullable=True),
        sa.Column("power_w", sa.Integer(), nullable=True),
        sa.Column("current_l1_ma", sa.Integer(), nullable=True),
        sa.Column("current_l2_ma", sa.Integer(), nullable=True),
        sa.Column("current_l3_ma", sa.Integer(), nullable=True),
        sa.Column("voltage_l1_mv", sa.Integer(), nullable=True),
        sa.Column("voltage_l2_mv", sa.Integer(), nullable=True),
        sa.Column("voltage_l3_mv", sa.Integer(), nullable=True),
        sa.Column("power_l1_w", sa.Integer(), nullable=True),
        sa.Column("power_l2_w", sa.Integer(), nullable=True),
        sa.Column("power_l3_w", sa.Integer(), nullable=True),
        sa.Column("offered_ma", sa.Integer(), nullable=True),
        sa.Column("temperature_dc", sa.Integer(), nullable=True),
        sa.Column("soc_permille", sa.Integer(), nullable=True),
        sa.Column("signed", sa.Text(), nullable=True),
        sa.Column("others", Document, nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.create_index("ix_reading_session", ["session_id", "at"], unique=False)
        batch_op.create_index("ix_reading_station", ["station_id", "at"], unique=False)

    op.create_table(
        "site",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("time_zone", sa.String(length=64), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("system", sa.String(length=10), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
    )
    op.create_table(
        "unknown_card",
        sa.Column("folded", sa.String(length=255), nullable=False),
        sa.Column("text", sa.String(length=255), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("evse", sa.Integer(), nullable=True),
        sa.Column("first_seen_at", Instant(), nullable=False),
        sa.Column("last_seen_at", Instant(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("folded", name=op.f("pk_unknown_card")),
    )
    op.create_table(
        "circuit",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("fed_from", sa.String(length=40), nullable=True),
        sa.Column("limit_l1_ma", sa.Integer(), nullable=False),
        sa.Column("limit_l2_ma", sa.Integer(), nullable=False),
        sa.Column("limit_l3_ma", sa.Integer(), nullable=False),
        sa.Column("device_ma", sa.Integer(), nullable=True),
        sa.Column("cap_w", sa.Integer(), nullable=True),
        sa.Column("unbalance_ma", sa.Integer(), nullable=True),
        sa.Column("worst_base_l1_ma", sa.Integer(), server_default="0", nullable=False),
        sa.Column("worst_base_l2_ma", sa.Integer(), server_default="0", nullable=False),
        sa.Column("worst_base_l3_ma", sa.Integer(), server_default="0", nullable=False),
        sa.Column("meter", Document, nullable=True),
        sa.ForeignKeyConstraint(["fed_from"], ["circuit.id"], name=op.f("fk_circuit_fed_from")),
        sa.ForeignKeyConstraint(
            ["site_id"], ["site.id"], name=op.f("fk_circuit_site_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_circuit")),
    )
    with op.batch_alter_table("circuit", schema=None) as batch_op:
        batch_op.create_index("ix_circuit_site", ["site_id"], unique=False)

    op.create_table(
        "member",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("email", sa.String(length=254), server_default="", nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_member_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_member")),
        sa.UniqueConstraint("site_id", "name", name=op.f("uq_member_site_id_name")),
    )
    op.create_table(
        "member_group",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("priority", sa.Integer(), server_default="0", nullable=False),
        sa.Column("weight_milli", sa.Integer(), server_default="1000", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_member_group_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_member_group")),
        sa.UniqueConstraint("site_id", "name", name=op.f("uq_member_group_site_id_name")),
    )
    op.create_table(
        "sign_in",
        sa.Column("secret_hash", sa.LargeBinary(), nullable=False),
        sa.Column("person", sa.String(length=80), nullable=False),
        sa.Column("form_token", sa.String(length=64), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("expires_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["person"], ["person.name"], name=op.f("fk_sign_in_person"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("secret_hash", name=op.f("pk_sign_in")),
    )
    op.create_table(
        "tariff",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("document", Document, nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_tariff_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tariff")),
    )
    op.create_table(
        "membership",
        sa.Column("group_id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(
            ["group_id"], ["member_group.id"], name=op.f("fk_membership_group_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_membership_member_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("group_id", "member_id", name=op.f("pk_membership")),
    )
    op.create_table(
        "station",
        sa.Column("id", sa.String(length=48), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=True),
        sa.Column("circuit_id", sa.String(length=40), nullable=True),
        sa.Column("name", sa.String(length=120), server_default="", nullable=False),
        sa.Column("key_salt", sa.LargeBinary(), nullable=True),
        sa.Column("key_hash", sa.LargeBinary(), nullable=True),
        sa.Column("registration", sa.String(length=10), nullable=False),
        sa.Column("wiring", sa.String(length=8), server_default="L1,L2,L3", nullable=False),
        sa.Column("max_current_ma", sa.Integer(), server_default="32000", nullable=False),
        sa.Column("step_ma", sa.Integer(), server_default="1000", nullable=False),
        sa.Column("fallback_ma", sa.Integer(), server_default="0", nullable=False),
        sa.Column("can_choose_line", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("keeps_profiles", sa.Boolean(), server_default="1", nullable=False),
        sa.Column("vendor", sa.String(length=255), server_default="", nullable=False),
        sa.Column("model", sa.String(length=255), server_default="", nullable=False),
        sa.Column("serial", sa.String(length=255), server_default="", nullable=False),
        sa.Column("firmware", sa.String(length=255), server_default="", nullable=False),
        sa.Column("protocol", sa.String(length=16), server_default="", nullable=False),
        sa.Column("booted_at", Instant(), nullable=True),
        sa.Column("epoch", sa.Integer(), server_default="0", nullable=False),
        sa.Column("connected", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("presence_at", Instant(), nullable=True),
        sa.Column("last_seen_at", Instant(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["circuit_id"], ["circuit.id"], name=op.f("fk_station_circuit_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_station_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station")),
    )
    with op.batch_alter_table("station", schema=None) as batch_op:
        batch_op.create_index("ix_station_site", ["site_id"], unique=False)

    op.create_table(
        "token",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("folded", sa.String(length=255), nullable=False),
        sa.Column("text", sa.String(length=255), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("label", sa.String(length=120), server_default="", nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=False),
        sa.Column("group_text", sa.String(length=255), server_default="", nullable=False),
        sa.Column("valid_from", Instant(), nullable=True),
        sa.Column("valid_to", Instant(), nullable=True),
        sa.Column("blocked", sa.Boolean(), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_token_member_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_token")),
        sa.UniqueConstraint("folded", name=op.f("uq_token_folded")),
    )
    with op.batch_alter_table("token", schema=None) as batch_op:
        batch_op.create_index("ix_token_member", ["member_id"], unique=False)

    op.create_table(
        "access_right",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("member_id", sa.String(length=40), nullable=True),
        sa.Column("group_id", sa.String(length=40), nullable=True),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("circuit_id", sa.String(length=40), nullable=True),
        sa.Column("station_id", sa.String(length=48), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["circuit_id"], ["circuit.id"], name=op.f("fk_access_right_circuit_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["group_id"], ["member_group.id"], name=op.f("fk_access_right_group_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_access_right_member_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_access_right_site_id")),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_access_right_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_access_right")),
    )
    with op.batch_alter_table("access_right", schema=None) as batch_op:
        batch_op.create_index("ix_access_right_group", ["group_id"], unique=False)
        batch_op.create_index("ix_access_right_member", ["member_id"], unique=False)

    op.create_table(
        "evse",
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("connector", sa.Integer(), server_default="1", nullable=False),
        sa.Column("confirmed", sa.Boolean(), server_default="1", nullable=False),
        sa.Column("status", sa.String(length=16), nullable=False),
        sa.Column("error", sa.String(length=50), server_default="", nullable=False),
        sa.Column("info", sa.String(length=255), server_default="", nullable=False),
        sa.Column("status_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_evse_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("station_id", "number", name=op.f("pk_evse")),
    )
    op.create_table(
        "offer",
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("evse", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("promised_ma", sa.Integer(), nullable=False),
        sa.Column("lapses_at", Instant(), nullable=False),
        sa.Column("asked_ma", sa.Integer(), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.Column("asked_at", Instant(), nullable=False),
        sa.Column("fallback_stored", sa.Boolean(), nullable=True),
        sa.Column("idle_may_end_at", Instant(), nullable=True),
        sa.Column("idle_ends_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_offer_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("station_id", "evse", name=op.f("pk_offer")),
    )
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_offer_site_id"), ["site_id"], unique=False)

    op.create_table(
        "session",
        sa.Column("id", RowId, autoincrement=True, nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=True),
        sa.Column("evse", sa.Integer(), nullable=True),
        sa.Column("connector", sa.Integer(), nullable=True),
        sa.Column("transaction_id", sa.String(length=64), nullable=True),
        sa.Column("start_key", sa.String(length=400), nullable=True),
        sa.Column("remote_start_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("charging", sa.String(length=16), server_default="idle", nullable=False),
        sa.Column("token_folded", sa.String(length=255), server_default="", nullable=False),
        sa.Column("token_text", sa.String(length=255), server_default="", nullable=False),
        sa.Column("token_id", sa.String(length=40), nullable=True),
        sa.Column("member_id", sa.String(length=40), nullable=True),
        sa.Column("verdict", sa.String(length=20), server_default="", nullable=False),
        sa.Column("verdict_reason", sa.String(length=40), server_default="", nullable=False),
        sa.Column("started_at", Instant(), nullable=False),
        sa.Column("ended_at", Instant(), nullable=True),
        sa.Column("arrived_at", Instant(), nullable=False),
        sa.Column("stop_reason", sa.String(length=20), nullable=True),
        sa.Column("register_start_wh", sa.BigInteger(), nullable=True),
        sa.Column("register_last_wh", sa.BigInteger(), nullable=True),
        sa.Column("register_last_at", Instant(), nullable=True),
        sa.Column("register_stop_wh", sa.BigInteger(), nullable=True),
        sa.Column("energy_wh", sa.BigInteger(), server_default="0", nullable=False),
        sa.Column("last_sequence", sa.Integer(), nullable=True),
        sa.Column("marks", Document, nullable=False),
        sa.Column("tariff_id", sa.String(length=40), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column("cost_excl_minor", sa.BigInteger(), nullable=True),
        sa.Column("cost_incl_minor", sa.BigInteger(), nullable=True),
        sa.Column("cost_lines", Document, nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_session_site_id")),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_session_station_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("session", schema=None) as batch_op:
        batch_op.create_index("ix_session_member", ["member_id"], unique=False)
        batch_op.create_index("ix_session_site_started", ["site_id", "started_at"], unique=False)
        batch_op.create_index("ix_session_state", ["state"], unique=False)
        batch_op.create_index("uq_session_start_key", ["station_id", "start_key"], unique=True)
        batch_op.create_index("uq_session_transaction", ["station_id", "transaction_id"], unique=True)

    op.create_table(
        "station_command",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("body", Document, nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=True),
        sa.Column("detail", sa.Text(), server_default="", nullable=False),
        sa.Column("data", Document, nullable=True),
        sa.Column("asked_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("asked_at", Instant(), nullable=False),
        sa.Column("answered_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_station_command_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station_command")),
    )
    with op.batch_alter_table("station_command", schema=None) as batch_op:
        batch_op.create_index("ix_station_command_station", ["station_id", "asked_at"], unique=False)

    op.create_table(
        "station_variable",
        sa.Column("station_id", sa.String(length=48), nullable=False),
        sa.Column("path", sa.String(length=255), nullable=False),
        sa.Column("value", sa.Text(), nullable=True),
        sa.Column("readonly", sa.Boolean(), nullable=False),
        sa.Column("seen_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_station_variable_station_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("station_id", "path", name=op.f("pk_station_variable")),
    )
    op.create_table(
        "tariff_assignment",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("tariff_id", sa.String(length=40), nullable=False),
        sa.Column("site_id", sa.String(length=40), nullable=False),
        sa.Column("station_id", sa.String(length=48), nullable=True),
        sa.Column("group_id", sa.String(length=40), nullable=True),
        sa.Column("guests", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("valid_from", Instant(), nullable=True),
        sa.Column("valid_to", Instant(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["group_id"], ["member_group.id"], name=op.f("fk_tariff_assignment_group_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_tariff_assignment_site_id")),
        sa.ForeignKeyConstraint(
            ["station_id"], ["station.id"], name=op.f("fk_tariff_assignment_station_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["tariff_id"], ["tariff.id"], name=op.f("fk_tariff_assignment_tariff_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tariff_assignment")),
    )
    with op.batch_alter_table("tariff_assignment", schema=None) as batch_op:
        batch_op.create_index("ix_tariff_assignment_site", ["site_id"], unique=False)

    op.create_table(
        "session_pause",
        sa.Column("session_id", RowId, nullable=False),
        sa.Column("from_at", Instant(), nullable=False),
        sa.Column("to_at", Instant(), nullable=True),
        sa.Column("by_us", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_session_pause_session_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("session_id", "from_at", "by_us", name=op.f("pk_session_pause")),
    )


def downgrade() -> None:
    op.drop_table("session_pause")
    with op.batch_alter_table("tariff_assignment", schema=None) as batch_op:
        batch_op.drop_index("ix_tariff_assignment_site")

    op.drop_table("tariff_assignment")
    op.drop_table("station_variable")
    with op.batch_alter_table("station_command", schema=None) as batch_op:
        batch_op.drop_index("ix_station_command_station")

    op.drop_table("station_command")
    with op.batch_alter_table("session", schema=None) as batch_op:
        batch_op.drop_index("uq_session_transaction")
        batch_op.drop_index("uq_session_start_key")
        batch_op.drop_index("ix_session_state")
        batch_op.drop_index("ix_session_site_started")
        batch_op.drop_index("ix_session_member")

    op.drop_table("session")
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_offer_site_id"))

    op.drop_table("offer")
    op.drop_table("evse")
    with op.batch_alter_table("access_right", schema=None) as batch_op:
        batch_op.drop_index("ix_access_right_member")
        batch_op.drop_index("ix_access_right_group")

    op.drop_table("access_right")
    with op.batch_alter_table("token", schema=None) as batch_op:
        batch_op.drop_index("ix_token_member")

    op.drop_table("token")
    with op.batch_alter_table("station", schema=None) as batch_op:
        batch_op.drop_index("ix_station_site")

    op.drop_table("station")
    op.drop_table("membership")
    op.drop_table("tariff")
    op.drop_table("sign_in")
    op.drop_table("member_group")
    op.drop_table("member")
    with op.batch_alter_table("circuit", schema=None) as batch_op:
        batch_op.drop_index("ix_circuit_site")

    op.drop_table("circuit")
    op.drop_table("unknown_card")
    op.drop_table("site")
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.drop_index("ix_reading_station")
        batch_op.drop_index("ix_reading_session")

    op.drop_table("reading")
    with op.batch_alter_table("quarantine", schema=None) as batch_op:
        batch_op.drop_index("ix_quarantine_station")

    op.drop_table("quarantine")
    op.drop_table("person")
    with op.batch_alter_table("outbox", schema=None) as batch_op:
        batch_op.drop_index("ix_outbox_unhandled")
        batch_op.drop_index("ix_outbox_site")

    op.drop_table("outbox")
    op.drop_table("orphan_step")
    with op.batch_alter_table("circuit_reading", schema=None) as batch_op:
        batch_op.drop_index("ix_circuit_reading")

    op.drop_table("circuit_reading")
    op.drop_table("api_key")
