"""Record what happened to the welds of a ring: one command for all of it.

The rules of `welds/rules.py` judge the whole history with the new fact in it. Here it is asked
what lies outside the ring: where the part stands, whether it is on hold, what people are
authorised for, whether the furnace run was accepted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from ringwright.bench.authorised import check_holds
from ringwright.bench.service import NEWEST, Desk, open_desk
from ringwright.bench.welding import plan_asked
from ringwright.core.errors import Clash, Missing, Refused
from ringwright.core.facts import Entry
from ringwright.furnaces.queries import read_run
from ringwright.furnaces.rules import ACCEPTED as RUN_ACCEPTED
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Draft, Tx
from ringwright.parts.facts import Held
from ringwright.people.allowing import may_act, need_second
from ringwright.sites.queries import person_known
from ringwright.weldmaps.rules import PERMISSION_OF, fact_of
from ringwright.welds import facts
from ringwright.welds.card import WeldPlan
from ringwright.welds.project import plan_finder
from ringwright.welds.queries import RING, read_plans
from ringwright.welds.rules import fold
from ringwright.welds.state import AT_LIMIT, Ring, ring_on
from ringwright.welds.telling import limit_told

WORK: Final = frozenset(
    {
        facts.VanesFitted.kind,
        facts.WeldsMade.kind,
        facts.WeldExcavated.kind,
        facts.WeldRedone.kind,
        facts.StressRelieved.kind,
    }
)
"""Acts on the metal: not on a part on hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TellRing:
    """One thing that happened to welds of a ring."""

    operation: ClassVar[str] = "tell of welds"
    serial: str
    act: str
    """The kind of the fact, such as `welds-made`."""
    said: Mapping[str, Any]
    """Its particulars, as `weldmaps/rules.py` reads them."""
    key: str | None
    seen: int | None = None
    """The ring's last entry when the screen was drawn; None: whatever it is."""

    def body(self) -> Any:
        """The act and its particulars."""
        return {"serial": self.serial, "act": self.act, "said": dict(self.said)}

    def subject(self) -> str:
        """The part."""
        return self.serial


def tell_allowed(command: TellRing, actor: Actor) -> bool:
    """True when one of the actor's roles may record this."""
    return may_act(actor, PERMISSION_OF.get(command.act, "weld"))


def tell_ring(tx: Tx, command: TellRing) -> dict[str, Any]:
    """Record it, if the ring's whole history obeys; a weld at its limit holds the part.

    Raises Missing for no such part or no weld plan, Clash when somebody acted on the ring
    first, Refused or Forbidden for what the rules of the shop do not allow.
    """
    desk = open_desk(tx, command.serial)
    part = desk.part
    if part.card is None:
        raise Missing(f"there is no part {command.serial}; check the serial and scan again")
    bench = _open(tx, desk, command)
    fact = fact_of(command.act, command.said, tx.actor.code)
    _check_floor(bench, fact)
    _check_people(bench, fact)
    corrects = _withdrawn(bench, command) if command.act == WITHDRAWN else None
    limit_before = set(bench.ring.in_state(AT_LIMIT))
    entry = bench.record(fact, corrects, command.key)
    held = _hold(bench, sorted(set(bench.ring.in_state(AT_LIMIT)) - limit_before))
    return view(bench.ring, entry, held=held)


WITHDRAWN: Final = facts.WeldEntryWithdrawn.kind


@dataclass(slots=True)
class _Bench:
    """The ring of one part within one command."""

    tx: Tx
    desk: Desk
    plan: WeldPlan
    history: list[Entry]
    ring: Ring
    begun: bool

    def record(self, fact: facts.RingFact, corrects: int | None, key: str | None) -> Entry:
        """Append it, with the ring's first entry before it where there is none."""
        tx, serial = self.tx, self.ring.serial
        at_us = max(tx.now_us, self.ring.last_at_us)
        opening = facts.RingOpened(product=self.plan.product, revision=self.plan.revision)
        find = plan_finder(tx.connection, tx.site.id)
        tried = [] if self.begun else [self._trial(opening, at_us, None, NEWEST)]
        fold(
            serial,
            [*self.history, *tried, self._trial(fact, at_us, corrects, NEWEST + 1)],
            find,
        )
        if not self.begun:
            self.history.append(
                tx.append(Draft(fact=opening, subject=serial, at_us=at_us), self.history)
            )
        draft = Draft(fact=fact, subject=serial, at_us=at_us, key=key, corrects=corrects)
        entry = tx.append(draft, self.history)
        self.history.append(entry)
        self.ring = fold(serial, self.history, find)
        return entry

    def _trial(
        self, fact: facts.RingFact, at_us: int, corrects: int | None, number: int
    ) -> Entry:
        tx = self.tx
        return Entry(
            number, fact.kind, at_us, tx.now_us, tx.actor.code, "", corrects, fact.payload()
        )


def _open(tx: Tx, desk: Desk, command: TellRing) -> _Bench:
    part = desk.part
    history = tx.history(RING, part.serial)
    if history:
        ring = fold(part.serial, history, plan_finder(tx.connection, tx.site.id))
        plan = ring.ruled
    else:
        plans = read_plans(tx.connection, tx.site.id, part.route.product)
        asked = plan_asked(part, plans, tx.now_us)
        if asked is None:
            raise Missing(
                f"{part.route.product} has no weld plan in force; "
                "the quality engineer adds one at its weld plan"
            )
        plan, ring = asked, ring_on(part.serial, asked)
    if command.seen is not None and command.seen != ring.last_seq:
        raise Clash(
            f"somebody acted on the ring of {part.serial} first; look again and decide anew",
            code="acted-first",
        )
    return _Bench(tx, desk, plan, history, ring, bool(history))


def _check_floor(bench: _Bench, fact: facts.RingFact) -> None:
    """Refuse work on a part that is not at its step, or on hold."""
    part, plan = bench.desk.part, bench.plan
    if fact.kind in WORK and part.open_hold is not None:
        raise Refused(
            f"{part.serial} is on hold: {part.open_hold.reason}. A supervisor or the quality "
            "engineer may lift it",
            code="held",
        )
    if fact.kind == facts.FilmTaken.kind and part.step != plan.radiograph_step:
        # Films are often taken when nobody else is in, before the visit begins.
        raise Refused(
            f"{part.serial} is {part.place} at step {part.step}; it is radiographed while it "
            f"waits for step {plan.radiograph_step} or is in work there",
            code="not-at-step",
        )
    steps = _STEPS_OF.get(fact.kind, _anywhere)(plan)
    visit = part.open_visit
    if steps and (visit is None or visit.step not in steps):
        told = " or ".join(map(str, steps))
        raise Refused(
            f"{part.serial} is {part.place}; begin step {told} at the Bench first",
            code="not-at-step",
        )


def _anywhere(_plan: WeldPlan) -> tuple[int, ...]:
    """What asks no step: results of tests, readings, withdrawals."""
    return ()


_STEPS_OF: Final[dict[str, Callable[[WeldPlan], tuple[int, ...]]]] = {
    facts.VanesFitted.kind: lambda plan: (plan.welding_step,),
    facts.WeldsMade.kind: lambda plan: (plan.welding_step,),
    facts.WeldRedone.kind: lambda plan: (plan.welding_step,),
    facts.WeldExcavated.kind: lambda plan: (plan.welding_step,),
}


def _check_people(bench: _Bench, fact: facts.RingFact) -> None:
    """Refuse whoever does not hold the authorisation that the plan asks, that day."""
    tx, plan = bench.tx, bench.plan
    if isinstance(fact, facts.WeldsMade | facts.WeldRedone):
        if fact.welder != tx.actor.code:
            person_known(tx.connection, tx.site.id, fact.welder)
        check_holds(tx, plan.welder, plan.welding_step, (fact.welder,), tx.now_us)
    elif isinstance(fact, facts.FilmTaken):
        people = (tx.actor.code,)
        check_holds(tx, plan.radiographer, plan.radiograph_step, people, tx.now_us)
    elif isinstance(fact, facts.FilmRead):
        check_holds(tx, plan.reader, plan.radiograph_step, (tx.actor.code,), tx.now_us)
    elif isinstance(fact, facts.StressRelieved):
        _check_relieved(bench, fact.run)


def _check_relieved(bench: _Bench, code: str) -> None:
    """Refuse a run that was not accepted, or that the part did not lie in."""
    run = read_run(bench.tx.connection, bench.tx.site.id, code)
    if run is None:
        raise Refused(f"there is no furnace run {code[:40]}; name the one that relieved it")
    if bench.ring.serial not in run.load:
        raise Refused(f"{bench.ring.serial} did not lie in {run.code}")
    if run.state != RUN_ACCEPTED:
        raise Refused(f"{run.code} is {run.state}; it relieves nothing until it is accepted")


def _withdrawn(bench: _Bench, command: TellRing) -> int:
    """The entry that does not stand; raises Missing, Refused, or asks for a second person."""
    number = command.said.get("entry")
    wrong = next((one for one in bench.history if one.seq == number), None)
    gone = {one.corrects for one in bench.history if one.kind == WITHDRAWN}
    if wrong is None or wrong.kind in (WITHDRAWN, facts.RingOpened.kind):
        raise Missing(f"entry {number} is none of this ring's that could be withdrawn")
    if wrong.seq in gone:
        raise Refused(f"entry {number} is withdrawn already")
    what = f"withdrawing entry {wrong.seq} of the welds of {bench.ring.serial}"
    need_second(bench.tx, "second: correct", what)
    return wrong.seq


def _hold(bench: _Bench, at_limit: list[str]) -> bool:
    """Put the part on hold for welds that came to their limit; True when it was."""
    if not at_limit or bench.desk.part.open_hold is not None:
        return False
    weld = bench.ring.welds[at_limit[0]]
    bench.desk.record(Held(reason=limit_told(bench.ring, weld)))
    return True


def view(ring: Ring, entry: Entry, *, held: bool = False) -> dict[str, Any]:
    """A ring as its commands answer it."""
    return {
        "serial": ring.serial,
        "entry": entry.seq,
        "act": entry.kind,
        "open": len(ring.open),
        "held": held,
        "welds": {code: weld.state for code, weld in ring.welds.items()},
    }


HANDLINGS: dict[type, Handling] = {TellRing: Handling(tell_ring, tell_allowed)}
