"""Gauges, their calibrations and checks; what a reading is worth and what it was taken with.

Revision ID: 0008
Revises: 0007
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0008"
down_revision: str | None = "0007"


def upgrade() -> None:
    """Add the tables and columns; readings are folded anew, since their form counts on."""
    op.create_table(
        "gauge_calibration",
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
        sa.Column("calibrated_on", sa.String(length=10), nullable=False),
        sa.Column("due_on", sa.String(length=10), nullable=False),
        sa.Column("good", sa.Boolean(), nullable=False),
        sa.Column("certificate", sa.Text(), nullable=False),
        sa.Column("uncertainty", sa.Float(precision=53), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_gauge_calibration")),
    )
    op.create_table(
        "gauge_check",
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
        sa.Column("master", sa.Text(), nullable=False),
        sa.Column("value", sa.Float(precision=53), nullable=False),
        sa.Column("expected", sa.Float(precision=53), nullable=False),
        sa.Column("allowed", sa.Float(precision=53), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("good", sa.Boolean(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", "number", name=op.f("pk_gauge_check")),
    )
    with op.batch_alter_table("gauge_check", schema=None) as batch_op:
        batch_op.create_index("ix_gauge_check_at", ["site_id", "code", "at_us"], unique=False)

    op.create_table(
        "gauge_now",
        sa.Column(
            "site_id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_gauge_now")),
    )
    op.create_table(
        "master_now",
        sa.Column(
            "site_id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "subject", name=op.f("pk_master_now")),
    )
    op.execute("DELETE FROM reading")
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.add_column(sa.Column("uncertainty", sa.Float(precision=53), nullable=True))
        batch_op.add_column(sa.Column("repeats", sa.Integer(), nullable=False))
        batch_op.add_column(sa.Column("suspect", sa.Text(), nullable=True))
        batch_op.add_column(sa.Column("fixture", sa.Text(), nullable=True))
        batch_op.add_column(sa.Column("torque_n_m", sa.Float(precision=53), nullable=True))
        batch_op.add_column(sa.Column("temperature_c", sa.Float(precision=53), nullable=True))
        batch_op.add_column(sa.Column("recording", sa.Text(), nullable=True))
        batch_op.create_index(
            "ix_reading_suspect",
            ["site_id", "serial"],
            unique=False,
            sqlite_where=sa.text("suspect IS NOT NULL"),
            postgresql_where=sa.text("suspect IS NOT NULL"),
        )


def downgrade() -> None:
    """Take them away again; the record keeps the facts."""
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.drop_index(
            "ix_reading_suspect",
            sqlite_where=sa.text("suspect IS NOT NULL"),
            postgresql_where=sa.text("suspect IS NOT NULL"),
        )
        batch_op.drop_column("recording")
        batch_op.drop_column("temperature_c")
        batch_op.drop_column("torque_n_m")
        batch_op.drop_column("fixture")
        batch_op.drop_column("suspect")
        batch_op.drop_column("repeats")
        batch_op.drop_column("uncertainty")

    op.drop_table("master_now")
    op.drop_table("gauge_now")
    with op.batch_alter_table("gauge_check", schema=None) as batch_op:
        batch_op.drop_index("ix_gauge_check_at")

    op.drop_table("gauge_check")
    op.drop_table("gauge_calibration")
