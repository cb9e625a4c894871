"""Migrations lead from nothing to exactly the tables the code declares, on both stores."""

from __future__ import annotations

import re

from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from ringwright.db import Store
from ringwright.ledger.migrate import MIGRATIONS, head
from ringwright.schema import METADATA
from scripts.new_revision import next_revision


def test_a_migrated_store_has_exactly_the_declared_tables(store_url: str) -> None:
    store = Store(store_url)

    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        found = compare_metadata(context, METADATA)

    store.close()
    assert found == []


def test_the_revisions_form_one_line_and_its_end_is_found_without_alembic() -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))

    assert ScriptDirectory.from_config(config).get_heads() == [head()]


def test_every_revision_file_is_named_by_its_day_number_and_purpose() -> None:
    names = sorted(path.name for path in (MIGRATIONS / "versions").glob("*.py"))

    assert names
    assert [
        n for n in names if not re.fullmatch(r"\d{4}_\d\d_\d\d_\d{4}_[a-z0-9_]+\.py", n)
    ] == []


def test_the_next_revision_counts_on() -> None:
    assert next_revision("0009") == "0010"
