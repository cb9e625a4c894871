"""Authorisations of people, temporary permissions, call-out lists, names beside the record.

Revision ID: 0007
Revises: 0006
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0007"
down_revision: str | None = "0006"

BIG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Add the tables; what stands in the first three is computed from the record."""
    op.create_table(
        "authorisation",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("number", BIG, autoincrement=False, nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("level", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.String(length=10), nullable=False),
        sa.Column("valid_to", sa.String(length=10), nullable=False),
        sa.Column("eyesight_to", sa.String(length=10), nullable=True),
        sa.Column("certificate", sa.Text(), nullable=False),
        sa.Column("scope", sa.Text(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("known_us", sa.BigInteger(), nullable=False),
        sa.Column("granted_by", sa.Text(), nullable=False),
        sa.Column("withdrawn_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn_known_us", sa.BigInteger(), nullable=False),
        sa.Column("withdrawn_by", sa.Text(), nullable=True),
        sa.Column("withdrawn_why", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("site_id", "subject", "number", name=op.f("pk_authorisation")),
    )
    op.create_index("ix_authorisation_method", "authorisation", ["site_id", "method"])
    op.create_table(
        "callout",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("role", sa.String(length=32), nullable=False),
        sa.Column("number", BIG, autoincrement=False, nullable=False),
        sa.Column("people", sa.Text(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("from_known_us", sa.BigInteger(), nullable=False),
        sa.Column("to_us", sa.BigInteger(), nullable=False),
        sa.Column("to_known_us", sa.BigInteger(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "role", "number", name=op.f("pk_callout")),
    )
    op.create_table(
        "permit",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("number", BIG, nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("permission", sa.String(length=32), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("granted_by", sa.Text(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("from_known_us", sa.BigInteger(), nullable=False),
        sa.Column("until_us", sa.BigInteger(), nullable=False),
        sa.Column("ended_us", sa.BigInteger(), nullable=False),
        sa.Column("ended_known_us", sa.BigInteger(), nullable=False),
        sa.Column("ended_by", sa.Text(), nullable=True),
        sa.Column("ended_why", sa.Text(), nullable=True),
        sa.Column("reviewed_us", sa.BigInteger(), nullable=False),
        sa.Column("reviewed_known_us", sa.BigInteger(), nullable=False),
        sa.Column("reviewed_by", sa.Text(), nullable=True),
        sa.Column("agreed", sa.Boolean(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_permit")),
    )
    op.create_index("ix_permit_person", "permit", ["site_id", "person", "until_us"])
    op.create_table(
        "person_contact",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("phone", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_person_contact")),
    )


def downgrade() -> None:
    """Take them away, with the names that were kept."""
    op.drop_table("person_contact")
    op.drop_table("permit")
    op.drop_table("callout")
    op.drop_table("authorisation")
