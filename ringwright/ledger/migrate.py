"""Bring a store to the newest schema; a store that is there already costs one SELECT."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from ringwright.db import make_engine

MIGRATIONS = Path(__file__).resolve().parent.parent / "migrations"
_REVISION = re.compile(r'^revision(?:: str)? = "(\w+)"', re.MULTILINE)
_DOWN = re.compile(r'^down_revision(?:: [^=]+)? = "(\w+)"', re.MULTILINE)


@cache
def head() -> str:
    """The newest revision, read from the version files without importing them."""
    texts = [
        path.read_text(encoding="utf-8") for path in (MIGRATIONS / "versions").glob("*.py")
    ]
    revisions = {found.group(1) for one in texts if (found := _REVISION.search(one))}
    before = {found.group(1) for one in texts if (found := _DOWN.search(one))}
    (newest,) = revisions - before
    return newest


def migrate(url: str) -> None:
    """Upgrade the store at a SQLAlchemy URL to the newest schema."""
    engine = make_engine(url)
    try:
        with engine.connect() as connection:
            current = _current(connection)
        if current != head():
            write = engine.connect().execution_options(ringwright_write=True)
            with write as connection, connection.begin():
                _upgrade(connection)
    finally:
        engine.dispose()


def _current(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    version: str | None = connection.execute(
        text("SELECT version_num FROM alembic_version")
    ).scalar()
    return version


def _upgrade(connection: Connection) -> None:
    # Alembic is slow to import and only needed when there is something to do.
    from alembic import command
    from alembic.config import Config

    if connection.dialect.name == "postgresql":
        # Two processes starting at once must not both create the tables.
        connection.execute(text("SELECT pg_advisory_xact_lock(-1)"))
        connection.execute(text("SET LOCAL lock_timeout = '5s'"))
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
