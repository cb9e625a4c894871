"""Alembic's entry: runs the versions on the connection that `migrate` hands over."""

from __future__ import annotations

from alembic import context

from ringwright.schema import METADATA

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=METADATA,
    compare_type=True,
    render_as_batch=connection.dialect.name == "sqlite",
)
context.run_migrations()
