"""Wall plans, and the sets of wall readings of cases.

Revision ID: 0015
Revises: 0014
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0015"
down_revision: str | None = "0014"

BIG_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Add both tables; no site has a wall plan yet, so nothing is rebuilt."""
    op.create_table(
        "wall_plan",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("number", BIG_ID, autoincrement=False, nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("effective_from", sa.String(length=10), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "product", "number", name=op.f("pk_wall_plan")),
    )
    op.create_table(
        "wall_set",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("number", BIG_ID, autoincrement=False, nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("method", sa.String(length=16), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("gauge", sa.Text(), nullable=False),
        sa.Column("u_mm", sa.Float(), nullable=True),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("file_digest", sa.String(length=64), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("withdrawn", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn_known_us", sa.BigInteger(), nullable=True),
        sa.Column("withdrawn_by", sa.Text(), nullable=False),
        sa.Column("withdrawn_why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", "number", name=op.f("pk_wall_set")),
    )
    op.create_index(
        "ix_wall_set_product", "wall_set", ["site_id", "product", "at_us"], unique=False
    )


def downgrade() -> None:
    """Take both away; the facts keep every plan and set."""
    op.drop_index("ix_wall_set_product", table_name="wall_set")
    op.drop_table("wall_set")
    op.drop_table("wall_plan")
