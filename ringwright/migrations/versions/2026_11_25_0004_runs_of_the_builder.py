"""Runs of the set builder, and pools that somebody brought as a file.

Revision ID: 0004
Revises: 0003
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0004"
down_revision: str | None = "0003"


def upgrade() -> None:
    """Add both tables; neither is part of the record."""
    op.create_table(
        "pool_file",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.String(length=16), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("blades", sa.Text(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_pool_file")),
    )
    op.create_table(
        "set_run",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.String(length=16), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("pool", sa.Text(), nullable=False),
        sa.Column("question", sa.Text(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=True),
        sa.Column("share", sa.Float(53), nullable=False),
        sa.Column("doing", sa.Text(), nullable=False),
        sa.Column("stop_asked", sa.Boolean(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("heard_us", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_set_run")),
    )
    op.create_index("ix_set_run_at", "set_run", ["site_id", "at_us"])


def downgrade() -> None:
    """Take both away."""
    op.drop_table("set_run")
    op.drop_table("pool_file")
