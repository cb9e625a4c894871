"""Furnaces, what is proved of them, recipes, runs and their loads.

Revision ID: 0010
Revises: 0009
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0010"
down_revision: str | None = "0009"

BIG_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Add the tables."""
    op.create_table(
        "furnace_now",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.Column("columns", sa.Text(), nullable=False),
        sa.Column("renewed", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_furnace_now")),
    )
    op.create_table(
        "furnace_proof",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", BIG_ID, autoincrement=False, nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("what", sa.String(length=16), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_furnace_proof")),
    )
    op.create_table(
        "furnace_run",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("furnace", sa.Text(), nullable=False),
        sa.Column("recipe", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("opened_us", sa.BigInteger(), nullable=False),
        sa.Column("started_us", sa.BigInteger(), nullable=True),
        sa.Column("ended_us", sa.BigInteger(), nullable=True),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("last_seq", sa.BigInteger(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_furnace_run")),
    )
    op.create_index(
        "ix_furnace_run_furnace", "furnace_run", ["site_id", "furnace", "opened_us"]
    )
    op.create_index("ix_furnace_run_state", "furnace_run", ["site_id", "state"])

    op.create_table(
        "recipe_revision",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", BIG_ID, autoincrement=False, nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_recipe_revision")),
    )
    op.create_table(
        "run_part",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("position", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "run", "serial", name=op.f("pk_run_part")),
    )
    op.create_index("ix_run_part_serial", "run_part", ["site_id", "serial"])


def downgrade() -> None:
    """Take the tables away; the facts stay in the record."""
    op.drop_table("run_part")
    op.drop_table("recipe_revision")
    op.drop_table("furnace_run")
    op.drop_table("furnace_proof")
    op.drop_table("furnace_now")
