"""${message}.

Revision ID: ${up_revision}
Revises: ${down_revision | comma,n}
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}

revision: str = ${repr(up_revision).replace("'", '"')}
down_revision: str | None = ${repr(down_revision).replace("'", '"')}


def upgrade() -> None:
    """Expand."""
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    """Go back."""
    ${downgrades if downgrades else "pass"}
