"""The record, its keys and its projections.

Revision ID: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0001"
down_revision: str | None = None

# Appended and never edited: the database itself refuses a change to what was recorded.
GUARDED = ("event", "booking_key", "refusal")


def upgrade() -> None:
    """Create every table, then the triggers that refuse change."""
    _create_tables()
    for table in GUARDED:
        if op.get_bind().dialect.name == "sqlite":
            _guard_sqlite(table)
        else:
            _guard_postgresql(table)


def _guard_sqlite(table: str) -> None:
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, 'the record refuses change'); END"
        )


def _guard_postgresql(table: str) -> None:
    op.execute(
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the record refuses change'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    )
    op.execute(
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )


def downgrade() -> None:
    """Drop everything, triggers first."""
    if op.get_bind().dialect.name == "sqlite":
        for table in GUARDED:
            op.execute(f"DROP TRIGGER {table}_no_update")
            op.execute(f"DROP TRIGGER {table}_no_delete")
    _drop_tables()
    if op.get_bind().dialect.name != "sqlite":
        op.execute("DROP FUNCTION refuse_change()")


def _create_tables() -> None:
    op.create_table(
        "api_token",
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(length=32), nullable=False),
        sa.Column("actor", sa.Text(), nullable=True),
        sa.Column("made_us", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("hash", name=op.f("pk_api_token")),
    )
    op.create_table(
        "booking_key",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=200), nullable=False),
        sa.Column("operation", sa.String(length=40), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("site_seq", sa.BigInteger(), nullable=True),
        sa.Column("answer", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("site_id", "key", name=op.f("pk_booking_key")),
    )
    op.create_table(
        "calendar_revision",
        sa.Column(
            "site_id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_calendar_revision")),
    )
    op.create_table(
        "event",
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column(
            "site_seq",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("key", sa.String(length=200), nullable=True),
        sa.Column("subject_kind", sa.String(length=32), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(length=32), nullable=False),
        sa.Column("v", sa.SmallInteger(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("recorded_at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_at_us", sa.BigInteger(), nullable=False),
        sa.Column("zone", sa.String(length=64), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("approver", sa.Text(), nullable=True),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("corrects", sa.BigInteger(), nullable=True),
        sa.Column("payload", sa.Text(), nullable=False),
        sa.Column("prev_hash", sa.LargeBinary(length=32), nullable=False),
        sa.Column("hash", sa.LargeBinary(length=32), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "site_seq", name=op.f("pk_event")),
    )
    op.create_index(
        "ix_event_subject",
        "event",
        ["site_id", "subject_kind", "subject", "site_seq"],
        unique=False,
    )
    op.create_index("ux_event_key", "event", ["site_id", "key"], unique=True)
    op.create_table(
        "hold",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("from_known_us", sa.BigInteger(), nullable=False),
        sa.Column("to_us", sa.BigInteger(), nullable=False),
        sa.Column("to_known_us", sa.BigInteger(), nullable=False),
        sa.Column("known_from_us", sa.BigInteger(), nullable=False),
        sa.Column("known_to_us", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", "number", "version", name=op.f("pk_hold")),
    )
    op.create_index("ix_hold_to", "hold", ["site_id", "to_us", "from_us"], unique=False)
    op.create_table(
        "ledger_head",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.String(length=200), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("hash", sa.LargeBinary(length=32), nullable=False),
        sa.PrimaryKeyConstraint("site_id", name=op.f("pk_ledger_head")),
        sa.UniqueConstraint("code", name=op.f("uq_ledger_head_code")),
    )
    op.create_table(
        "life",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("created_us", sa.BigInteger(), nullable=False),
        sa.Column("created_known_us", sa.BigInteger(), nullable=False),
        sa.Column("released_us", sa.BigInteger(), nullable=True),
        sa.Column("released_known_us", sa.BigInteger(), nullable=False),
        sa.Column("scrapped_us", sa.BigInteger(), nullable=True),
        sa.Column("scrapped_known_us", sa.BigInteger(), nullable=False),
        sa.Column("scrap_defect", sa.Text(), nullable=True),
        sa.Column("scrap_place", sa.Text(), nullable=True),
        sa.Column("found_step", sa.Integer(), nullable=True),
        sa.Column("caused_step", sa.Integer(), nullable=True),
        sa.Column("witnessed_us", sa.BigInteger(), nullable=True),
        sa.Column("used_us", sa.BigInteger(), nullable=True),
        sa.Column("used_known_us", sa.BigInteger(), nullable=False),
        sa.Column("sent_us", sa.BigInteger(), nullable=True),
        sa.Column("known_from_us", sa.BigInteger(), nullable=False),
        sa.Column("known_to_us", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", "number", "version", name=op.f("pk_life")),
    )
    op.create_index(
        "ix_life_created", "life", ["site_id", "product", "created_us"], unique=False
    )
    op.create_index(
        "ix_life_released", "life", ["site_id", "product", "released_us"], unique=False
    )
    op.create_index(
        "ix_life_scrapped", "life", ["site_id", "product", "scrapped_us"], unique=False
    )
    op.create_table(
        "link",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("link", sa.String(length=8), nullable=False),
        sa.Column("parent", sa.Text(), nullable=False),
        sa.Column("child", sa.Text(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_from_us", sa.BigInteger(), nullable=False),
        sa.Column("known_to_us", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", "number", "version", name=op.f("pk_link")),
    )
    op.create_index("ix_link_child", "link", ["site_id", "child"], unique=False)
    op.create_index("ix_link_parent", "link", ["site_id", "parent"], unique=False)
    op.create_table(
        "nonconformity",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("defect", sa.Text(), nullable=False),
        sa.Column("found_step", sa.Integer(), nullable=True),
        sa.Column("characteristic", sa.Text(), nullable=True),
        sa.Column("place_on_part", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("opened_us", sa.BigInteger(), nullable=False),
        sa.Column("opened_known_us", sa.BigInteger(), nullable=False),
        sa.Column("opened_by", sa.Text(), nullable=False),
        sa.Column("closed_us", sa.BigInteger(), nullable=False),
        sa.Column("closed_known_us", sa.BigInteger(), nullable=False),
        sa.Column("decision", sa.String(length=16), nullable=True),
        sa.Column("caused_step", sa.Integer(), nullable=True),
        sa.Column("document", sa.Text(), nullable=True),
        sa.Column("sentence", sa.BigInteger(), nullable=True),
        sa.Column("known_from_us", sa.BigInteger(), nullable=False),
        sa.Column("known_to_us", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "version", name=op.f("pk_nonconformity")
        ),
    )
    op.create_index(
        "ix_nonconformity_closed", "nonconformity", ["site_id", "closed_us"], unique=False
    )
    op.create_table(
        "part_mark",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("mark", sa.Text(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", "mark", name=op.f("pk_part_mark")),
    )
    op.create_index("ix_part_mark_mark", "part_mark", ["site_id", "mark"], unique=False)
    op.create_table(
        "part_now",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("place", sa.String(length=16), nullable=False),
        sa.Column("step", sa.Integer(), nullable=True),
        sa.Column("since_us", sa.BigInteger(), nullable=False),
        sa.Column("paused", sa.Boolean(), nullable=False),
        sa.Column("hold", sa.Text(), nullable=True),
        sa.Column("nonconformities", sa.Integer(), nullable=False),
        sa.Column("whereabouts", sa.Text(), nullable=True),
        sa.Column("mark", sa.Text(), nullable=True),
        sa.Column("kept", sa.Text(), nullable=True),
        sa.Column("last_seq", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", name=op.f("pk_part_now")),
    )
    op.create_index(
        "ix_part_now_product", "part_now", ["site_id", "product", "place", "step"], unique=False
    )
    op.create_table(
        "person_now",
        sa.Column(
            "site_id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_person_now")),
    )
    op.create_table(
        "reading",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("visit", sa.Integer(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("characteristic", sa.Text(), nullable=False),
        sa.Column("value", sa.Float(precision=53), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("inside", sa.Boolean(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("at_known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("known_from_us", sa.BigInteger(), nullable=False),
        sa.Column("known_to_us", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "version", name=op.f("pk_reading")
        ),
    )
    op.create_index(
        "ix_reading_step",
        "reading",
        ["site_id", "step", "characteristic", "at_us"],
        unique=False,
    )
    op.create_table(
        "refusal",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("operation", sa.String(length=40), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_refusal")),
    )
    op.create_table(
        "route_revision",
        sa.Column(
            "site_id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("effective_us", sa.BigInteger(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("family", sa.String(length=32), nullable=False),
        sa.Column("target_per_week", sa.Float(precision=53), nullable=True),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "product", "revision", name=op.f("pk_route_revision")
        ),
    )
    op.create_table(
        "site_info",
        sa.Column(
            "site_id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("zone", sa.String(length=64), nullable=False),
        sa.Column("week_starts", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_site_info")),
    )
    op.create_table(
        "station_now",
        sa.Column(
            "site_id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_station_now")),
    )
    op.create_table(
        "visit",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("step", sa.Integer(), nullable=True),
        sa.Column("first", sa.Boolean(), nullable=False),
        sa.Column("ready_us", sa.BigInteger(), nullable=False),
        sa.Column("begin_us", sa.BigInteger(), nullable=False),
        sa.Column("begin_known_us", sa.BigInteger(), nullable=False),
        sa.Column("end_us", sa.BigInteger(), nullable=False),
        sa.Column("end_known_us", sa.BigInteger(), nullable=False),
        sa.Column("outcome", sa.String(length=16), nullable=True),
        sa.Column("defect", sa.Text(), nullable=True),
        sa.Column("card", sa.Text(), nullable=True),
        sa.Column("pause_us", sa.BigInteger(), nullable=False),
        sa.Column("touch_us", sa.BigInteger(), nullable=True),
        sa.Column("queue_us", sa.BigInteger(), nullable=True),
        sa.Column("next_step", sa.Integer(), nullable=True),
        sa.Column("leave_us", sa.BigInteger(), nullable=False),
        sa.Column("leave_known_us", sa.BigInteger(), nullable=False),
        sa.Column("skipped", sa.Integer(), nullable=False),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("lot", sa.Text(), nullable=True),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("known_from_us", sa.BigInteger(), nullable=False),
        sa.Column("known_to_us", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "version", name=op.f("pk_visit")
        ),
    )
    op.create_index("ix_visit_end", "visit", ["site_id", "end_us", "step"], unique=False)
    op.create_index(
        "ix_visit_leave", "visit", ["site_id", "leave_us", "begin_us"], unique=False
    )


def _drop_tables() -> None:
    op.drop_index("ix_visit_leave", table_name="visit")
    op.drop_index("ix_visit_end", table_name="visit")
    op.drop_table("visit")
    op.drop_table("station_now")
    op.drop_table("site_info")
    op.drop_table("route_revision")
    op.drop_table("refusal")
    op.drop_index("ix_reading_step", table_name="reading")
    op.drop_table("reading")
    op.drop_table("person_now")
    op.drop_index("ix_part_now_product", table_name="part_now")
    op.drop_table("part_now")
    op.drop_index("ix_part_mark_mark", table_name="part_mark")
    op.drop_table("part_mark")
    op.drop_index("ix_nonconformity_closed", table_name="nonconformity")
    op.drop_table("nonconformity")
    op.drop_index("ix_link_parent", table_name="link")
    op.drop_index("ix_link_child", table_name="link")
    op.drop_table("link")
    op.drop_index("ix_life_scrapped", table_name="life")
    op.drop_index("ix_life_released", table_name="life")
    op.drop_index("ix_life_created", table_name="life")
    op.drop_table("life")
    op.drop_table("ledger_head")
    op.drop_index("ix_hold_to", table_name="hold")
    op.drop_table("hold")
    op.drop_index("ux_event_key", table_name="event")
    op.drop_index("ix_event_subject", table_name="event")
    op.drop_table("event")
    op.drop_table("calendar_revision")
    op.drop_table("booking_key")
    op.drop_table("api_token")
