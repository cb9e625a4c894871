"""A visit names the furnace run it began with; visits are folded anew.

Revision ID: 0011
Revises: 0010
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision: str = "0011"
down_revision: str | None = "0010"


def upgrade() -> None:
    """Add the column; every site's rows are of an older form and are rebuilt at once."""
    with op.batch_alter_table("visit") as table:
        table.add_column(sa.Column("run", sa.Text(), nullable=False, server_default=""))


def downgrade() -> None:
    """Take it away; the facts keep the run."""
    with op.batch_alter_table("visit") as table:
        table.drop_column("run")
