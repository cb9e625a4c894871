"""Accounts, who is signed in, devices, one-time codes, and the audit of the doors.

Revision ID: 0005
Revises: 0004
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0005"
down_revision: str | None = "0004"


def upgrade() -> None:
    """Add the tables; tokens learn an end, scopes and a name."""
    _accounts()
    _doors()
    _audit()
    with op.batch_alter_table("api_token") as token:
        token.add_column(sa.Column("label", sa.Text(), server_default="", nullable=False))
        token.add_column(sa.Column("scopes", sa.Text(), nullable=True))
        token.add_column(sa.Column("made_by", sa.Text(), nullable=True))
        token.add_column(sa.Column("ends_us", sa.BigInteger(), nullable=True))
        token.add_column(sa.Column("ended_us", sa.BigInteger(), nullable=True))


def _accounts() -> None:
    op.create_table(
        "account",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=True),
        sa.Column("pin_hash", sa.Text(), nullable=True),
        sa.Column("badge_hash", sa.String(length=64), nullable=True),
        sa.Column("outside_subject", sa.Text(), nullable=True),
        sa.Column("made_us", sa.BigInteger(), nullable=False),
        sa.Column("shut_us", sa.BigInteger(), nullable=True),
        sa.Column("demo", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "code", name=op.f("pk_account")),
    )
    op.create_index(op.f("ix_account_badge_hash"), "account", ["badge_hash"])
    op.create_index(op.f("ix_account_outside_subject"), "account", ["outside_subject"])
    op.create_table(
        "signed_in",
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("way", sa.String(length=16), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("agent", sa.Text(), nullable=False),
        sa.Column("made_us", sa.BigInteger(), nullable=False),
        sa.Column("seen_us", sa.BigInteger(), nullable=False),
        sa.Column("ended_us", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("hash", name=op.f("pk_signed_in")),
    )
    op.create_index("ix_signed_in_of", "signed_in", ["site_id", "code"])


def _doors() -> None:
    op.create_table(
        "device",
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("made_by", sa.Text(), nullable=False),
        sa.Column("made_us", sa.BigInteger(), nullable=False),
        sa.Column("seen_us", sa.BigInteger(), nullable=False),
        sa.Column("ended_us", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("hash", name=op.f("pk_device")),
    )
    op.create_index(op.f("ix_device_site_id"), "device", ["site_id"])
    op.create_table(
        "one_time_code",
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("purpose", sa.String(length=16), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("made_by", sa.Text(), nullable=False),
        sa.Column("ends_us", sa.BigInteger(), nullable=False),
        sa.Column("used_us", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("hash", name=op.f("pk_one_time_code")),
    )


def _audit() -> None:
    op.create_table(
        "audit_line",
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(length=32), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_audit_line")),
    )
    op.create_index("ix_audit_line_at", "audit_line", ["site_id", "at_us"])
    if op.get_bind().dialect.name == "sqlite":
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER audit_line_no_{act.lower()} BEFORE {act} ON audit_line "
                "BEGIN SELECT RAISE(ABORT, 'the record refuses change'); END"
            )
        return
    op.execute(
        "CREATE TRIGGER audit_line_no_change BEFORE UPDATE OR DELETE ON audit_line "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    )
    op.execute(
        "CREATE TRIGGER audit_line_no_truncate BEFORE TRUNCATE ON audit_line "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )


def downgrade() -> None:
    """Take all of it away."""
    with op.batch_alter_table("api_token") as token:
        for column in ("ended_us", "ends_us", "made_by", "scopes", "label"):
            token.drop_column(column)
    for table in ("audit_line", "one_time_code", "device", "signed_in", "account"):
        op.drop_table(table)
