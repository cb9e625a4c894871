"""One thing the story tells: a fact about to happen, as plain data."""

from __future__ import annotations

from typing import Any, NamedTuple


class Told(NamedTuple):
    """A fact of the story, before the ledger has numbered it."""

    at_us: int
    subject_kind: str
    subject: str
    kind: str
    actor: str
    station: str
    data: dict[str, Any]
    ref: int = -1
    """Which earlier fact of the same part it speaks of (a stop, a mistake), from 0."""
