"""Notes that a shift leaves for the next, and corrections found by when they were made.

Revision ID: 0012
Revises: 0011
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0012"
down_revision: str | None = "0011"

CORRECTIONS = "ix_event_corrects"


def upgrade() -> None:
    """Add the table; no site has a note yet, so nothing is rebuilt."""
    op.create_table(
        "handover_note",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=False,
            nullable=False,
        ),
        sa.Column("shift_us", sa.BigInteger(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("for_role", sa.String(length=32), nullable=True),
        sa.Column("serial", sa.Text(), nullable=True),
        sa.Column("taken_us", sa.BigInteger(), nullable=False),
        sa.Column("taken_known_us", sa.BigInteger(), nullable=False),
        sa.Column("taken_by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "subject", "number", name=op.f("pk_handover_note")),
    )
    for name, columns in (
        ("ix_handover_note_shift", ["site_id", "shift_us"]),
        ("ix_handover_note_taken", ["site_id", "taken_us", "shift_us"]),
        ("ix_handover_note_serial", ["site_id", "serial"]),
    ):
        op.create_index(name, "handover_note", columns, unique=False)
    few = sa.text("corrects IS NOT NULL")
    op.create_index(
        CORRECTIONS,
        "event",
        ["site_id", "at_us"],
        unique=False,
        sqlite_where=few,
        postgresql_where=few,
    )


def downgrade() -> None:
    """Take both away; the facts keep every note."""
    op.drop_index(CORRECTIONS, table_name="event")
    op.drop_table("handover_note")
