"""Stores that begin alike are furnished once and copied: the telling costs more than the copy.

Only SQLite's, in an empty, migrated file and under a clock that stands: what is told then is
the same to the last byte. On PostgreSQL, or by a running clock, everything is told anew.
"""

from __future__ import annotations

import atexit
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import make_url

from ringwright.assembly import open_ledger
from ringwright.core.clock import Clock, FixedClock
from ringwright.db import Store
from ringwright.ledger.service import Ledger

Furnish = Callable[[Ledger], None]
_FOLDER = Path(tempfile.mkdtemp(prefix="ringwright-kept-"))
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)
_KEPT: dict[tuple[str, ...], Path] = {}


def opened(url: str, clock: Clock | None, furnish: Furnish, *about: str) -> Ledger:
    """The record of a store that `furnish` furnished, itself or in a copy.

    `about` is all that the furnishing depends on beside the clock: texts that a test may set
    otherwise, too.
    """
    address = make_url(url)
    alike = isinstance(clock, FixedClock) and address.get_backend_name() == "sqlite"
    if not alike or not _is_empty(Path(str(address.database))):
        return _told(url, clock, furnish)
    assert isinstance(clock, FixedClock)
    store = Path(str(address.database))
    name = (furnish.__module__, furnish.__qualname__, str(clock.at_us), *about)
    if name not in _KEPT:
        began_us = clock.at_us
        _told(url, clock, furnish).store.close()
        assert clock.at_us == began_us, "a furnishing that moves the clock cannot be copied"
        _KEPT[name] = Path(shutil.copy(store, _FOLDER / f"{len(_KEPT)}.sqlite"))
    else:
        shutil.copy(_KEPT[name], store)
    return open_ledger(Store(url), clock)


def _told(url: str, clock: Clock | None, furnish: Furnish) -> Ledger:
    ledger = open_ledger(Store(url), clock)
    furnish(ledger)
    return ledger


def _is_empty(store: Path) -> bool:
    """Whether it was migrated and nothing else; a second opening tells on as it always did."""
    connection = sqlite3.connect(store)
    try:
        return bool(connection.execute("SELECT count(*) = 0 FROM event").fetchone()[0])
    finally:
        connection.close()
