"""Runs, defects and entries of all but parts found by when they were.

Revision ID: 0018
Revises: 0016
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0018"
down_revision: str | None = "0016"

INDEXES = (
    (
        "ix_furnace_run_recipe",
        ["site_id", "recipe", "opened_us", "revision", "state", "started_us"],
    ),
    ("ix_furnace_run_started", ["site_id", "furnace", "started_us"]),
    ("ix_furnace_run_ended", ["site_id", "ended_us", "started_us"]),
)
OTHERS = "ix_event_others"
DEFECT = "ix_visit_defect_word"


def upgrade() -> None:
    """Only indexes, and what PostgreSQL knows of its rows: no row changes."""
    for name, columns in INDEXES:
        op.create_index(name, "furnace_run", columns, unique=False)
    others = sa.text("subject_kind <> 'part'")
    op.create_index(
        OTHERS,
        "event",
        ["site_id", "at_us"],
        unique=False,
        sqlite_where=others,
        postgresql_where=others,
    )
    _index_defects("site_id", "defect", "end_us")
    _look_closer(1000)


def downgrade() -> None:
    """Take them away."""
    _look_closer(-1)
    _index_defects("site_id", "defect")
    op.drop_index(OTHERS, table_name="event")
    for name, _columns in INDEXES:
        op.drop_index(name, table_name="furnace_run")


def _index_defects(*columns: str) -> None:
    found = sa.text("defect IS NOT NULL")
    op.drop_index(DEFECT, table_name="visit")
    op.create_index(
        DEFECT, "visit", columns, unique=False, sqlite_where=found, postgresql_where=found
    )


def _look_closer(target: int) -> None:
    """How finely PostgreSQL tells apart when parts left.

    The few that stand in the cell lie beyond the last of its hundred classes, so it reckons
    with a hundredth of all visits ever, and would rather read whole tables than ask part by
    part. -1: as usual.
    """
    if op.get_bind().dialect.name == "postgresql":
        op.execute(f"ALTER TABLE visit ALTER COLUMN leave_us SET STATISTICS {target}")
        op.execute("ANALYZE visit (leave_us)")
