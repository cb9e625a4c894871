"""Acts that waited in a browser while the network was down, sent now that it is back.

Each carries the key it got when it was pressed and the moment it was pressed at, so that it is
booked once, as of then. What was only proposed is judged here for the first time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from ringwright.bench.desk import Outcome, act
from ringwright.core.errors import Clash, Refused
from ringwright.kit.forms import Given
from ringwright.ledger.service import Read
from ringwright.parts.queries import read_events, resolve_serial
from ringwright.people.screen import Screen

MAY_WAIT: Final = frozenset(
    {"keep", "note", "begin", "pause", "resume", "pass", "rework", "stop", "hold", "move"}
)
"""What may be pressed without the network. All else asks what only the server knows."""
KEPT_AS_SUCH: Final = frozenset({"keep", "note"})
"""What conflicts with nothing that others did meanwhile: it says what was seen, and when."""


def send(screen: Screen, serial: str, given: Given) -> tuple[int, dict[str, Any]]:
    """(HTTP status, what became of it): the entry, or why it is refused.

    `fresh` says whether nobody else acted on the part since the screen was drawn; then what
    was pressed after it may take this entry as the one it was drawn from.
    """
    outcome = _tried(screen, serial, given)
    if outcome.trouble is not None:
        error = outcome.trouble.error
        return error.status, {"why": error.message, "code": error.code}
    assert outcome.entry is not None
    with screen.ledger.read(screen.site) as read:
        fresh = is_fresh(read, serial, given.whole("seen"), outcome.entry)
    return 200, {"entry": outcome.entry, "fresh": fresh}


def _tried(screen: Screen, serial: str, given: Given) -> Outcome:
    name, at_ms = given.text("act").partition(":")[0], given.whole("at_ms")
    if name not in MAY_WAIT or at_ms is None:
        raise Refused("that cannot wait in a browser; do it at the Bench")
    if not screen.shared and given.text("who") != screen.actor.code:
        raise Clash(
            f"it was entered by {given.text('who')[:60] or 'a shared bench'}, "
            f"not by {screen.actor.code}; it goes out when they sign in",
            code="not-yours",
        )
    said = given
    if name in KEPT_AS_SUCH:
        said = Given(fields={k: v for k, v in given.fields.items() if k != "seen"}, files={})
    outcome = act(screen, serial, said, at_ms * 1000)
    if outcome.trouble is not None and outcome.trouble.error.code == "key-reused":
        # It had arrived before the line broke, without a moment of its own; the answer had not.
        again = act(screen, serial, given)
        return again if again.trouble is None else replace(again, trouble=outcome.trouble)
    return outcome


def is_fresh(read: Read, serial: str, seen: int | None, entry: int) -> bool:
    """True when every entry after `seen` was made by the act that made `entry`."""
    rows = read_events(read, resolve_serial(read.connection, read.site, serial))
    own = {row.recorded_at_us for row in rows if row.site_seq == entry}
    return seen is not None and _between(rows, seen, entry) <= own


def _between(rows: Sequence[Any], seen: int, entry: int) -> set[int]:
    return {row.recorded_at_us for row in rows if seen < row.site_seq <= entry}
