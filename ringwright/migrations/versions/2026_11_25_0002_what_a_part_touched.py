"""Lots, gauges, searches, carriers, shuttings, containments and published weeks.

The projections are emptied: a program that finds them in an old form writes them anew.

Revision ID: 0002
Revises: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0002"
down_revision: str | None = "0001"

PROJECTIONS = (
    "part_now", "part_mark", "visit", "reading", "hold", "nonconformity", "life", "link",
)  # fmt: skip


def upgrade() -> None:
    """Empty the parts' projections, widen them, add the new ones."""
    for table in PROJECTIONS:
        op.execute(f"DELETE FROM {table}")  # noqa: S608 - names from above
    _create_tables()
    _widen_part_now()
    _widen_visit()
    with op.batch_alter_table("reading") as batch:
        batch.add_column(sa.Column("gauge", sa.Text(), nullable=True))
        batch.add_column(sa.Column("product", sa.Text(), nullable=False, server_default=""))
    op.create_index("ix_reading_gauge", "reading", ["site_id", "gauge", "at_us"])
    with op.batch_alter_table("life") as batch:
        batch.add_column(sa.Column("lot", sa.Text(), nullable=True))
    used = sa.text("used_us IS NOT NULL")
    _create_partial("ix_life_used", "life", ["site_id", "product", "used_us"], used)
    op.create_index("ix_life_lot", "life", ["site_id", "lot"])
    whole = sa.text("scrapped_us IS NOT NULL AND witnessed_us IS NULL")
    _create_partial("ix_life_whole", "life", ["site_id", "scrapped_us"], whole)
    with op.batch_alter_table("nonconformity") as batch:
        for name in ("station", "product"):
            batch.add_column(sa.Column(name, sa.Text(), nullable=False, server_default=""))
    op.drop_index("ix_nonconformity_closed", "nonconformity")
    closed = ["site_id", "closed_us", "known_to_us"]
    op.create_index("ix_nonconformity_closed", "nonconformity", closed)
    op.create_index("ix_nonconformity_defect", "nonconformity", ["site_id", "defect"])
    op.create_index("ix_nonconformity_opened", "nonconformity", ["site_id", "opened_us"])


def _create_partial(name: str, table: str, columns: list[str], where: sa.TextClause) -> None:
    op.create_index(name, table, columns, sqlite_where=where, postgresql_where=where)


def _widen_part_now() -> None:
    with op.batch_alter_table("part_now") as table:
        table.add_column(sa.Column("lot", sa.Text(), nullable=True))
        table.add_column(
            sa.Column("priority", sa.Integer(), nullable=False, server_default="0")
        )
        table.add_column(
            sa.Column("sought", sa.Boolean(), nullable=False, server_default=sa.false())
        )
    op.create_index("ix_part_now_whereabouts", "part_now", ["site_id", "whereabouts"])


def _widen_visit() -> None:
    with op.batch_alter_table("visit") as table:
        for name in ("ended_by", "product", "revision"):
            table.add_column(sa.Column(name, sa.Text(), nullable=False, server_default=""))
        table.add_column(sa.Column("part_lot", sa.Text(), nullable=True))
    op.drop_index("ix_visit_end", "visit")
    counted = ["site_id", "product", "end_us", "step", "first", "outcome", "known_to_us"]
    op.create_index("ix_visit_end", "visit", counted)
    op.create_index("ix_visit_station", "visit", ["site_id", "station", "begin_us"])
    op.create_index("ix_visit_station_end", "visit", ["site_id", "station", "end_us"])
    found = sa.text("defect IS NOT NULL")
    _create_partial("ix_visit_defect", "visit", ["site_id", "product", "step", "end_us"], found)
    _create_partial("ix_visit_defect_word", "visit", ["site_id", "defect"], found)
    op.create_index("ix_visit_lot", "visit", ["site_id", "lot"])
    op.create_index("ix_visit_ended_by", "visit", ["site_id", "ended_by", "end_us"])
    late = sa.text("leave_known_us > leave_us")
    _create_partial("ix_visit_late", "visit", ["site_id", "leave_known_us"], late)
    op.create_index("ix_visit_actor", "visit", ["site_id", "actor", "begin_us"])


def _big() -> sa.types.TypeEngine[int]:
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _span() -> list[sa.Column[int]]:
    names = ("from_us", "from_known_us", "to_us", "to_known_us")
    return [sa.Column(name, sa.BigInteger(), nullable=False) for name in names]


def _create_tables() -> None:
    op.create_table(
        "projection_state",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("form", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", name=op.f("pk_projection_state")),
    )
    op.create_table(
        "condition",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("number", _big(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("actor", sa.Text(), nullable=False),
        *_span(),
        sa.Column("known_from_us", sa.BigInteger(), nullable=False),
        sa.Column("known_to_us", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "version", name=op.f("pk_condition")
        ),
    )
    op.create_index("ix_condition_value", "condition", ["site_id", "kind", "value"])
    op.create_index("ix_condition_to", "condition", ["site_id", "kind", "to_us", "from_us"])
    _create_site_tables()
    _create_published_week()


def _create_site_tables() -> None:
    op.create_table(
        "carrier_stay",
        sa.Column("site_id", _big(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", _big(), autoincrement=False, nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        *_span(),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_carrier_stay")),
    )
    op.create_index("ix_carrier_stay_place", "carrier_stay", ["site_id", "place", "to_us"])
    op.create_index("ix_carrier_stay_to", "carrier_stay", ["site_id", "to_us"])
    op.create_table(
        "shutting",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("number", _big(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("opener", sa.Text(), nullable=False),
        *_span(),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("opened_by", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("site_id", "subject", "number", name=op.f("pk_shutting")),
    )
    op.create_index("ix_shutting_to", "shutting", ["site_id", "to_us"])


def _create_published_week() -> None:
    op.create_table(
        "published_week",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("number", _big(), autoincrement=False, nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("week", sa.String(length=8), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("head_seq", sa.BigInteger(), nullable=False),
        sa.Column("head_hash", sa.String(length=64), nullable=False),
        sa.Column("output", sa.Integer(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("numbers", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "subject", "number", name=op.f("pk_published_week")),
    )
    op.create_index("ix_published_week_week", "published_week", ["site_id", "week", "product"])


def downgrade() -> None:
    """Take the new tables and columns away; the older program rebuilds nothing by itself."""
    for name in ("published_week", "shutting", "carrier_stay", "condition", "projection_state"):
        op.drop_table(name)
    for table, indexes, columns in (
        ("nonconformity", ("defect", "opened", "closed"), ("product", "station")),
        ("life", ("used", "lot", "whole"), ("lot",)),
        ("reading", ("gauge",), ("product", "gauge")),
        ("part_now", ("whereabouts",), ("sought", "priority", "lot")),
    ):
        for index in indexes:
            op.drop_index(f"ix_{table}_{index}", table)
        _drop_columns(table, columns)
    for index in (
        "late",
        "ended_by",
        "actor",
        "lot",
        "defect_word",
        "defect",
        "station_end",
        "station",
        "end",
    ):
        op.drop_index(f"ix_visit_{index}", "visit")
    op.create_index("ix_nonconformity_closed", "nonconformity", ["site_id", "closed_us"])
    _drop_columns("visit", ("part_lot", "revision", "product", "ended_by"))
    op.create_index("ix_visit_end", "visit", ["site_id", "end_us", "step"])


def _drop_columns(table: str, columns: tuple[str, ...]) -> None:
    with op.batch_alter_table(table) as batch:
        for column in columns:
            batch.drop_column(column)
