"""What is attached: bytes under their digest, which the store itself refuses to change.

Revision ID: 0009
Revises: 0008
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0009"
down_revision: str | None = "0008"


def upgrade() -> None:
    """Add the table and its triggers."""
    op.create_table(
        "attachment",
        sa.Column("site_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("media", sa.String(length=40), nullable=False),
        sa.Column("kept_us", sa.BigInteger(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("site_id", "digest", name=op.f("pk_attachment")),
    )
    if op.get_bind().dialect.name == "sqlite":
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER attachment_no_{act.lower()} BEFORE {act} ON attachment "
                "BEGIN SELECT RAISE(ABORT, 'the record refuses change'); END"
            )
        return
    op.execute(
        "CREATE TRIGGER attachment_no_change BEFORE UPDATE OR DELETE ON attachment "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    )
    op.execute(
        "CREATE TRIGGER attachment_no_truncate BEFORE TRUNCATE ON attachment "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )


def downgrade() -> None:
    """Take the table away, and all that is attached with it; the facts still name it."""
    op.drop_table("attachment")
