"""Write the next migration from what the tables say: python -m scripts.new_revision "why"."""

from __future__ import annotations

import re
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config

from ringwright.db import make_engine
from ringwright.ledger.migrate import MIGRATIONS, head, migrate


def next_revision(newest: str) -> str:
    """Count on from the newest revision's number."""
    return f"{int(newest) + 1:0{len(newest)}d}"


def write(message: str) -> None:
    """Compare an empty store at the newest schema with the tables; write down what differs."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'store.sqlite'}"
        migrate(url)
        engine = make_engine(url)
        config = Config()
        config.set_main_option("script_location", str(MIGRATIONS))
        config.set_main_option(
            "file_template", f"{datetime.now(UTC):%Y_%m_%d}_%%(rev)s_%%(slug)s"
        )
        with engine.connect() as connection:
            config.attributes["connection"] = connection
            command.revision(config, message, autogenerate=True, rev_id=next_revision(head()))
        engine.dispose()


if __name__ == "__main__":
    if len(sys.argv) != 2 or not re.search(r"\w", sys.argv[1]):
        raise SystemExit(__doc__)
    write(sys.argv[1])
