"""Weld plans, and the welds of rings: passes, films, verdicts, defects.

Revision ID: 0016
Revises: 0015
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0016"
down_revision: str | None = "0015"


def upgrade() -> None:
    """Add the tables; no site has a weld yet, so nothing is rebuilt."""
    op.create_table(
        "vane_position",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("vane", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("radial_mm", sa.Float(), nullable=False),
        sa.Column("axial_mm", sa.Float(), nullable=False),
        sa.Column("gauge", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "vane", name=op.f("pk_vane_position")
        ),
    )
    op.create_table(
        "weld_defect",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("weld", sa.String(length=16), nullable=False),
        sa.Column("place", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("passed", sa.Integer(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn_us", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("size_mm", sa.Float(), nullable=False),
        sa.Column("at_mm", sa.Float(), nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "weld", "place", name=op.f("pk_weld_defect")
        ),
    )
    op.create_table(
        "weld_film",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("film", sa.Text(), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn_us", sa.BigInteger(), nullable=False),
        sa.Column("radiographer", sa.Text(), nullable=False),
        sa.Column("technique", sa.Text(), nullable=False),
        sa.Column("technique_class", sa.String(length=4), nullable=False),
        sa.Column("iqi", sa.String(length=8), nullable=False),
        sa.Column("wire", sa.Integer(), nullable=False),
        sa.Column("good", sa.Boolean(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("welds", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", "number", name=op.f("pk_weld_film")),
    )
    op.create_table(
        "weld_pass",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("weld", sa.String(length=16), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("passed", sa.Integer(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn_us", sa.BigInteger(), nullable=False),
        sa.Column("welder", sa.Text(), nullable=False),
        sa.Column("procedure", sa.Text(), nullable=False),
        sa.Column("filler_lot", sa.Text(), nullable=False),
        sa.Column("oxygen_ppm", sa.Float(), nullable=False),
        sa.Column("colour", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "weld", name=op.f("pk_weld_pass")
        ),
    )
    op.create_index(
        "ix_weld_pass_product", "weld_pass", ["site_id", "product", "at_us"], unique=False
    )

    op.create_table(
        "weld_plan",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("effective_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "product", "number", name=op.f("pk_weld_plan")),
    )
    op.create_table(
        "weld_ring",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("welds", sa.Integer(), nullable=False),
        sa.Column("open", sa.Integer(), nullable=False),
        sa.Column("to_read", sa.Integer(), nullable=False),
        sa.Column("at_limit", sa.Integer(), nullable=False),
        sa.Column("repairs", sa.Integer(), nullable=False),
        sa.Column("begun_us", sa.BigInteger(), nullable=False),
        sa.Column("done_us", sa.BigInteger(), nullable=False),
        sa.Column("last_seq", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "serial", name=op.f("pk_weld_ring")),
    )
    op.create_index("ix_weld_ring_done", "weld_ring", ["site_id", "done_us"], unique=False)

    op.create_table(
        "weld_verdict",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("weld", sa.String(length=16), nullable=False),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("film", sa.Text(), nullable=False),
        sa.Column("passed", sa.Integer(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn_us", sa.BigInteger(), nullable=False),
        sa.Column("reader", sa.Text(), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.Column("again", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint(
            "site_id", "serial", "number", "weld", name=op.f("pk_weld_verdict")
        ),
    )
    op.create_index(
        "ix_weld_verdict_product", "weld_verdict", ["site_id", "product", "at_us"], unique=False
    )


def downgrade() -> None:
    """Take them away; the facts keep every weld."""
    op.drop_index("ix_weld_verdict_product", table_name="weld_verdict")

    op.drop_table("weld_verdict")
    op.drop_index("ix_weld_ring_done", table_name="weld_ring")

    op.drop_table("weld_ring")
    op.drop_table("weld_plan")
    op.drop_index("ix_weld_pass_product", table_name="weld_pass")

    op.drop_table("weld_pass")
    op.drop_table("weld_film")
    op.drop_table("weld_defect")
    op.drop_table("vane_position")
