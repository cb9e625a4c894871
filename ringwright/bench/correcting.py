"""Correct what was booked: a later fact that names the entry, and the reason."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, ClassVar

from ringwright.bench.acts import Act, desk_of, done
from ringwright.bench.rules import check_text
from ringwright.bench.service import AHEAD_LIMIT_US, Desk
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.facts import Entry
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Tx
from ringwright.parts import facts
from ringwright.parts.reserving import OF_SETS
from ringwright.people.allowing import permits

TAKE_BACK_US = 10 * 1_000_000
WHOLE = ("at_us", "step")
TEXTS = (
    "outcome",
    "defect",
    "characteristic",
    "unit",
    "station",
    "by",
    "reason",
    "lot",
    "gauge",
)
CORRECTABLE = (*WHOLE, *TEXTS, "value")


@dataclass(frozen=True, slots=True, kw_only=True)
class Correct(Act):
    """An earlier entry of the part is void, or some of its fields read otherwise."""

    operation: ClassVar[str] = "correct"
    entry: int
    reason: str = ""
    void: bool = False
    changes: dict[str, Any] = field(default_factory=dict)


def correct_allowed(command: Correct, actor: Actor) -> bool:
    """Whoever books may ask: taking one's own booking back at once is everybody's right."""
    asked = permits(actor, "correct") or permits(actor, "take back")
    return asked and command.entry > 0


def correct(tx: Tx, act: Correct) -> dict[str, Any]:
    """Record the correction; the whole history must still obey, or nothing is recorded."""
    desk = desk_of(tx, act)
    wrong = next((e for e in desk.history if e.seq == act.entry), None)
    if wrong is None or wrong.kind == "correct":
        raise Missing(f"entry {act.entry} is no entry of {desk.part.serial} to correct")
    if wrong.kind in OF_SETS:
        raise Refused(
            f"entry {act.entry} is of a set; mend the set or give it back instead",
        )
    if not _is_take_back(tx, act, desk, wrong):
        if not permits(tx.actor, "correct"):
            raise Forbidden("the time to take it back is over; a supervisor can correct it")
        if not act.reason.strip():
            raise Refused("a correction needs its reason")
    if bool(act.changes) == act.void:
        raise Refused("a correction either voids the entry or changes some of its fields")
    _check_changes(tx, act.changes)
    fact = facts.Corrected(
        void=act.void, fields=act.changes or None, reason=act.reason or "taken back"
    )
    return done(desk, act, fact, key=act.key, corrects=act.entry)


def _is_take_back(tx: Tx, act: Correct, desk: Desk, wrong: Entry) -> bool:
    own = wrong.actor == tx.actor.code and act.void
    last = max(entry.seq for entry in desk.history) == wrong.seq
    return own and last and tx.now_us - wrong.known_us <= TAKE_BACK_US


def _check_changes(tx: Tx, changes: dict[str, Any]) -> None:
    """Refuse a field that cannot be corrected, or a value that no booking could hold.

    Whoever may not book an outcome may not correct an entry into it either.
    """
    unknown = [name for name in changes if name not in CORRECTABLE]
    if unknown:
        raise Refused(f"{', '.join(unknown)} cannot be corrected; void the entry instead")
    for name, value in changes.items():
        if not _fits(name, value):
            raise Refused(f"{name} cannot read {value!r}; look at it again")
    if changes.get("at_us", 0) > tx.now_us + AHEAD_LIMIT_US:
        raise Refused("at lies more than five minutes ahead of the server's clock")
    outcome = changes.get("outcome", "pass")
    if outcome not in facts.OUTCOMES:
        raise Refused(f"outcome {outcome!r} is none of {', '.join(facts.OUTCOMES)}")
    if not permits(tx.actor, outcome):
        raise Forbidden(f"an entry is corrected into {outcome} by whoever may book one")


def _fits(name: str, value: Any) -> bool:
    """True for a value that a booking could hold in this field."""
    if isinstance(value, bool):
        return False
    if name == "value":
        return isinstance(value, int | float) and math.isfinite(value)
    if name in WHOLE:
        return isinstance(value, int)
    return value is None or (isinstance(value, str) and bool(check_text(name, value)))


HANDLINGS: dict[type, Handling] = {Correct: Handling(correct, correct_allowed)}
