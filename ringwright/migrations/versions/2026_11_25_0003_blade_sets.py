"""Blade sets, the reservations of their blades, what a rotor allows, and the builder's papers.

The projections of parts are emptied: a program that finds them in an old form writes them anew.

Revision ID: 0003
Revises: 0002
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0003"
down_revision: str | None = "0002"

PROJECTIONS = (
    "part_now", "part_mark", "visit", "reading", "hold", "nonconformity", "life", "link",
    "condition",
)  # fmt: skip


def _big() -> sa.types.TypeEngine[int]:
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _site() -> sa.Column[int]:
    return sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False)


def upgrade() -> None:
    """Empty the parts' projections, say the set a part is kept for, add the new tables."""
    for table in PROJECTIONS:
        op.execute(f"DELETE FROM {table}")  # noqa: S608 - names from above
    with op.batch_alter_table("part_now") as batch:
        batch.add_column(sa.Column("reservation", sa.Text(), nullable=True))
    _create_sets()


def _create_sets() -> None:
    op.create_table(
        "blade_set",
        _site(),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("since_us", sa.BigInteger(), nullable=False),
        sa.Column("first_seq", sa.BigInteger(), nullable=False),
        sa.Column("last_seq", sa.BigInteger(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_blade_set")),
    )
    op.create_index("ix_blade_set_product", "blade_set", ["site_id", "product", "state"])
    op.create_table(
        "reservation",
        _site(),
        sa.Column("set_code", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("slot", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", name=op.f("pk_reservation")),
    )
    op.create_index("ix_reservation_set", "reservation", ["site_id", "set_code"])
    op.create_table(
        "rotor_revision",
        _site(),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("number", _big(), autoincrement=False, nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("rotor", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "product", "number", name=op.f("pk_rotor_revision")),
    )


def downgrade() -> None:
    """Take the new tables and the column away; the older program rebuilds nothing by itself."""
    for name in ("rotor_revision", "reservation", "blade_set"):
        op.drop_table(name)
    with op.batch_alter_table("part_now") as batch:
        batch.drop_column("reservation")
