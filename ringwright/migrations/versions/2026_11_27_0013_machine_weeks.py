"""Machining plans, fixtures, logs of spindles, and the planner's board.

Revision ID: 0013
Revises: 0012
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision: str = "0013"
down_revision: str | None = "0012"

INDEX = "ix_spindle_note_station"


def _columns() -> dict[str, list[sa.Column[Any]]]:
    return {
        "board_plan": [
            sa.Column("kind", sa.String(length=32), nullable=False),
            sa.Column("reason", sa.Text(), nullable=False),
            sa.Column("data", sa.Text(), nullable=False),
        ],
        "fixture_count": [
            sa.Column("many", sa.Integer(), nullable=False),
            sa.Column("name", sa.Text(), nullable=False),
        ],
        "machining_revision": [sa.Column("data", sa.Text(), nullable=False)],
        "spindle_note": [
            sa.Column("station", sa.Text(), nullable=False),
            sa.Column("kind", sa.String(length=32), nullable=False),
            sa.Column("serial", sa.Text(), nullable=False),
            sa.Column("step", sa.Integer(), nullable=False),
            sa.Column("reason", sa.String(length=32), nullable=False),
            sa.Column("text", sa.Text(), nullable=False),
        ],
    }


def _head() -> list[sa.Column[Any]]:
    """What a row begins with: it stands for one entry."""
    whole = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    return [
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", whole, autoincrement=False, nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
    ]


def upgrade() -> None:
    """Add the tables; no site has such a fact yet, so nothing is rebuilt."""
    for name, columns in _columns().items():
        key = sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f(f"pk_{name}"))
        op.create_table(name, *_head(), *columns, key)
    op.create_index(INDEX, "spindle_note", ["site_id", "station", "at_us"], unique=False)


def downgrade() -> None:
    """Take them away; the facts keep everything."""
    op.drop_index(INDEX, table_name="spindle_note")
    for name in _columns():
        op.drop_table(name)
