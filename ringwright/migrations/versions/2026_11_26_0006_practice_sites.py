"""Practice sites: which real site one is for, said once and never changed.

Revision ID: 0006
Revises: 0005
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0006"
down_revision: str | None = "0005"


def upgrade() -> None:
    """Add the column; every site that is there is a real one. A trigger keeps it as it is."""
    op.add_column("ledger_head", sa.Column("practice_of", sa.String(200), nullable=True))
    op.create_index(
        op.f("uq_ledger_head_practice_of"), "ledger_head", ["practice_of"], unique=True
    )
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "CREATE TRIGGER ledger_head_stays_practice BEFORE UPDATE ON ledger_head "
            "WHEN OLD.practice_of IS NOT NEW.practice_of "
            "BEGIN SELECT RAISE(ABORT, 'the record refuses change'); END"
        )
        return
    op.execute(
        "CREATE TRIGGER ledger_head_stays_practice BEFORE UPDATE ON ledger_head FOR EACH ROW "
        "WHEN (OLD.practice_of IS DISTINCT FROM NEW.practice_of) "
        "EXECUTE FUNCTION refuse_change()"
    )


def downgrade() -> None:
    """Take both away; an older program's audit then refuses the chain of a practice site."""
    on = "" if op.get_bind().dialect.name == "sqlite" else " ON ledger_head"
    op.execute(f"DROP TRIGGER ledger_head_stays_practice{on}")
    op.drop_index(op.f("uq_ledger_head_practice_of"), "ledger_head")
    op.drop_column("ledger_head", "practice_of")
