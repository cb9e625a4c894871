"""What a command on a store begins with: the record opened, a moment read, practice told."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from ringwright.core.errors import Refused
from ringwright.settings import Settings, read_settings

if TYPE_CHECKING:
    from ringwright.ledger.service import Ledger
    from ringwright.ledger.transaction import Site


@contextmanager
def opened(settings: Settings | None = None) -> Iterator[Ledger]:
    """The record, its schema brought up to date first, closed at the end."""
    from ringwright.assembly import bring_up, ledger_of

    found = settings or read_settings()
    bring_up(found.database_url, lambda text: print(text, file=sys.stderr))
    ledger = ledger_of(found)
    try:
        yield ledger
    finally:
        ledger.store.close()


def tell_practice(site: Site) -> None:
    """Say on the side that the answer is about a practice site; what it prints stays stable."""
    if site.practice_of is not None:
        print(
            f"{site.code} is a practice site: nothing of it is a real record.", file=sys.stderr
        )


def moment_asked(arguments: Namespace) -> int | None:
    """The instant that --as-of names, None without one; raises Refused."""
    from ringwright.core.calendar import parse_instant

    if arguments.as_of is None:
        return None
    try:
        return parse_instant(arguments.as_of)
    except ValueError as trouble:
        raise Refused(f"--as-of {arguments.as_of!r}: {trouble}") from None
