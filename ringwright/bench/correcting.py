"""Correct what was booked: a later fact that names the entry, and the reason.

Three ways, by what the correction weighs:

- Taking one's own last booking back within ten seconds is free.
- A plain typo mended before the part went on (to its next step, into a set, away) needs one
  person and a reason: whoever may correct, or whoever made the entry, who may mend of it what
  `OWN` names: the reading, gauge, note, defect and station. Voiding it is not theirs.
- Whatever comes later, changes a decision (`parts/decided.py`) or names somebody else as who
  acted needs whoever may correct and a second person.

That an entry stays attributable to who made it is the first of the ALCOA+ principles (WHO
Technical Report Series 1033, Annex 4, from memory); hence the third rule for `by`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, ClassVar

from ringwright.bench.accepting import check_end
from ringwright.bench.acts import Act, desk_of, done, permission_to_decide
from ringwright.bench.permitted import check_lots
from ringwright.bench.reading import AHEAD_LIMIT_US
from ringwright.bench.rules import check_text
from ringwright.bench.service import Desk
from ringwright.bench.signing import permission_to_correct
from ringwright.bench.welding import check_welds
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.facts import Entry
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Tx
from ringwright.parts import facts
from ringwright.parts.decided import ONWARD, changes_a_decision
from ringwright.parts.knowledge import fold_before, in_effect
from ringwright.parts.reserving import OF_SETS
from ringwright.parts.state import Part
from ringwright.people.allowing import may_act, need_second

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
OWN = frozenset({"value", "gauge", "reason", "defect", "station"})
"""What whoever made an entry may mend of it themselves."""
NOT_YOURS = "the time to take it back is over; a supervisor can correct it"


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
    asked = may_act(actor, "correct") or may_act(actor, "take back")
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
    free = _is_take_back(tx, act, desk, wrong)
    if not free:
        if not (may_act(tx.actor, "correct") or _is_own_typo(tx, act, desk, wrong)):
            raise Forbidden(NOT_YOURS)
        if not act.reason.strip():
            raise Refused("a correction needs its reason")
    if bool(act.changes) == act.void:
        raise Refused("a correction either voids the entry or changes some of its fields")
    _check_changes(tx, act.changes)
    check_lots(tx, desk.part.route, [act.changes.get("lot")])
    fact = facts.Corrected(
        void=act.void, fields=act.changes or None, reason=act.reason or "taken back"
    )
    if not free:
        _weigh(tx, act, desk, fact)
    return done(desk, act, fact, key=act.key, corrects=act.entry)


def _is_take_back(tx: Tx, act: Correct, desk: Desk, wrong: Entry) -> bool:
    own = wrong.actor == tx.actor.code and act.void
    last = max(entry.seq for entry in desk.history) == wrong.seq
    return own and last and tx.now_us - wrong.known_us <= TAKE_BACK_US


def _is_own_typo(tx: Tx, act: Correct, desk: Desk, wrong: Entry) -> bool:
    """True for small fields of an entry of one's own that nobody else has corrected since."""
    others = any(
        entry.corrects == wrong.seq and entry.actor != tx.actor.code for entry in desk.history
    )
    own = tx.actor.person and wrong.actor == tx.actor.code
    return own and not others and act.changes.keys() <= OWN and not act.void


@dataclass(frozen=True, slots=True)
class _Corrected:
    """The part's record with the correction in it, beside how it reads now."""

    desk: Desk
    number: int
    history: list[Entry]
    after: Part

    def reads(self, history: list[Entry]) -> Entry | None:
        """The corrected entry as a record leaves it; None where it is void."""
        return next((e for e in in_effect(history) if e.seq == self.number), None)

    @property
    def brings_in(self) -> str | None:
        """The outcome or decision that would stand and does not stand now, if any."""
        before, after = _decision(self.reads(self.desk.history)), self.decision
        return after if after != before else None

    @property
    def decision(self) -> str | None:
        """What the corrected entry decides."""
        return _decision(self.reads(self.history))

    @property
    def went_on(self) -> bool:
        """True when the part went on after the entry."""
        wrong = self.reads(self.desk.history) or next(
            entry for entry in self.desk.history if entry.seq == self.number
        )
        return any(
            entry.kind in ONWARD and (entry.at_us, entry.seq) > (wrong.at_us, wrong.seq)
            for entry in in_effect(self.desk.history)
        )

    def at_its_place(self) -> Part:
        """The part just before the corrected entry."""
        reads = self.reads(self.history)
        place = (reads.at_us, reads.seq) if reads else (0, 0)
        desk = self.desk
        return fold_before(desk.part.serial, self.history, desk.find, place)


def _decision(entry: Entry | None) -> str | None:
    data = entry.data if entry else {}
    return data.get("outcome") or data.get("decision")


def _weigh(tx: Tx, act: Correct, desk: Desk, fact: facts.Corrected) -> None:
    """Refuse what the corrector may not decide; ask for a second person where it weighs."""
    trial, after = desk.trial(fact, station=act.station, corrects=act.entry)
    found = _Corrected(desk, act.entry, [*desk.history, trial], after)
    _check_decision(tx, act, found)
    why = _why_it_weighs(act, found)
    if why is None:
        return
    if not may_act(tx.actor, "correct"):
        raise Forbidden(NOT_YOURS)
    permission = permission_to_correct(desk.part, after, found.brings_in)
    what = f"correcting entry {act.entry} of {desk.part.serial}, which {why},"
    need_second(tx, permission, what, str(act.changes.get("by") or ""))
    if tx.approver is not None and found.brings_in is not None:
        check_end(tx, found.at_its_place(), found.brings_in, (tx.approver,))


def _check_decision(tx: Tx, act: Correct, found: _Corrected) -> None:
    """Whoever may not decide so may not correct an entry into it, nor accept their own work so.

    An entry that was void and would stand again counts as decided anew.
    """
    reads, decision = found.reads(found.history), found.brings_in
    if decision is not None and reads is not None:
        needed = decision if reads.kind == "end" else permission_to_decide(decision)
        if not may_act(tx.actor, needed):
            raise Forbidden(f"an entry is corrected into {decision} by whoever may book one")
        if reads.kind == "end":
            check_welds(tx, found.at_its_place(), reads.data.get("step"), decision)
    names = {tx.actor.code} if decision is not None else set()
    names |= {str(act.changes["by"])} if act.changes.get("by") else set()
    if reads is not None and reads.kind == "end":
        check_end(tx, found.at_its_place(), str(found.decision), sorted(names))


def _why_it_weighs(act: Correct, found: _Corrected) -> str | None:
    """Why the correction needs a second person; None for a plain typo."""
    if changes_a_decision(found.desk.part, found.after):
        return "changes a decision"
    if "by" in act.changes:
        return "changes who acted"
    if found.went_on:
        return "comes after the part went on"
    return None


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
    if not may_act(tx.actor, outcome):
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
