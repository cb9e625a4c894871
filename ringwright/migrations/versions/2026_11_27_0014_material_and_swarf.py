"""Alloys, lots of material and swarf containers, and what was put on parts.

Revision ID: 0014
Revises: 0013
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0014"
down_revision: str | None = "0013"


def upgrade() -> None:
    """Add the tables; no site has one yet, so nothing is rebuilt."""
    op.create_table(
        "alloy_revision",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_alloy_revision")),
    )
    op.create_table(
        "lot_revision",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_lot_revision")),
    )
    op.create_table(
        "material_added",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("gone_known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", "number", name=op.f("pk_material_added")),
    )
    op.create_table(
        "swarf_container",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("alloy", sa.Text(), nullable=False),
        sa.Column("swarf", sa.String(length=16), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("mixed", sa.Boolean(), nullable=False),
        sa.Column("lot", sa.Text(), nullable=False),
        sa.Column("opened_us", sa.BigInteger(), nullable=False),
        sa.Column("last_us", sa.BigInteger(), nullable=False),
        sa.Column("last_seq", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_swarf_container")),
    )
    op.create_index(
        "ix_swarf_container_state", "swarf_container", ["site_id", "state"], unique=False
    )

    op.create_table(
        "swarf_entry",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("kind", sa.String(length=32), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("corrects", sa.BigInteger(), nullable=True),
        sa.Column("serial", sa.Text(), nullable=True),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_swarf_entry")),
    )
    op.create_index("ix_swarf_entry_at", "swarf_entry", ["site_id", "at_us"], unique=False)
    op.create_index("ix_swarf_entry_serial", "swarf_entry", ["site_id", "serial"], unique=False)


def downgrade() -> None:
    """Take them away; the facts keep everything."""
    op.drop_index("ix_swarf_entry_serial", table_name="swarf_entry")
    op.drop_index("ix_swarf_entry_at", table_name="swarf_entry")

    op.drop_table("swarf_entry")
    op.drop_index("ix_swarf_container_state", table_name="swarf_container")

    op.drop_table("swarf_container")
    op.drop_table("material_added")
    op.drop_table("lot_revision")
    op.drop_table("alloy_revision")
