"""What has been decided on a part, and whether a correction would leave it otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from ringwright.parts.conditions import CONTAINMENT, NOTICE
from ringwright.parts.rows import FOREVER_US, ReadingRow
from ringwright.parts.state import SENT, Part

ONWARD: Final = frozenset({"begin", "send", "reserve", "fit", "join", "split"})
"""With any of these the part went on: to its next step, into a set, another part, the world."""


def changes_a_decision(before: Part, after: Part) -> bool:
    """True when an outcome, sentence, hold, release, skip or verdict would read otherwise."""
    return _decided(before) != _decided(after) or _verdicts_differ(before, after)


def _decided(part: Part) -> tuple[Any, ...]:
    suspect = [row for row in part.conditions if row.kind in (CONTAINMENT, NOTICE)]
    return (
        [(v.step, v.outcome, v.card) for v in part.visits if v.outcome is not None],
        [(n.number, n.decision, n.sentence) for n in part.nonconformities],
        [(h.number, h.to_us < FOREVER_US) for h in part.holds],
        [
            (one.released_us is None, one.scrapped_us is None, one.witnessed_us is None)
            for one in part.lives
        ],
        part.place == SENT,
        frozenset(part.skipped),
        [(row.kind, row.value, row.to_us < FOREVER_US) for row in suspect],
    )


def _verdicts_differ(before: Part, after: Part) -> bool:
    """True when a reading would be judged otherwise, or a decision rest on other readings.

    In an open visit nothing rests on a reading yet: one inside its limits may go or come back.
    """
    old, new = _by_number(before), _by_number(after)
    both = old.keys() & new.keys()
    lone = [(old.get(n) or new[n]) for n in old.keys() ^ new.keys()]
    ended = _ended(before) | _ended(after)
    return (
        any(old[n].inside != new[n].inside for n in both)
        or any(
            old[n].characteristic != new[n].characteristic and old[n].visit in ended
            for n in both
        )
        or any(not row.inside or row.visit in ended for row in lone)
        or _lasting(before) != _lasting(after)
    )


def _by_number(part: Part) -> Mapping[int, ReadingRow]:
    return {row.number: row for row in part.readings}


def _ended(part: Part) -> frozenset[int]:
    return frozenset(visit.number for visit in part.visits if visit.outcome is not None)


def _lasting(part: Part) -> dict[tuple[int, str], bool]:
    """The verdicts that ended visits rest on: of each characteristic's last reading."""
    ended = _ended(part)
    return {
        (row.visit, row.characteristic): row.inside
        for row in part.readings
        if row.visit in ended
    }
