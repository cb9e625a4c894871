"""Propose a set, reserve it, mend it, give it back: the planner's commands.

A set is booked on itself and on each of its blades, in one transaction or not at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

from ringwright.bench.many import listed, open_desks, record_each
from ringwright.bench.rules import needed, said
from ringwright.bench.service import Desk
from ringwright.core.errors import Clash, Missing, Refused
from ringwright.core.facts import Entry
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx, check_code
from ringwright.parts import facts as parts
from ringwright.parts.queries import resolve_serial
from ringwright.parts.state import FITTED
from ringwright.people.allowing import allows
from ringwright.routecards.queries import read_revisions
from ringwright.sets import facts
from ringwright.sets.blades import readings_of, why_not_free
from ringwright.sets.queries import next_code
from ringwright.sets.rules import BladeSet, Readings, check_slots, fold


@dataclass(frozen=True, slots=True, kw_only=True)
class Propose:
    """Keep an answer of the builder under a name; no blade is taken."""

    operation: ClassVar[str] = "propose a set"
    key: str | None
    product: str
    slots: tuple[str, ...]
    asked: dict[str, Any] | None = None

    def body(self) -> Any:
        """The product, its slots, the rules asked."""
        return {"product": self.product, "slots": list(self.slots), "asked": self.asked}

    def subject(self) -> str:
        """The product."""
        return self.product


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserve:
    """Keep these blades for a new set, or for one that was proposed."""

    operation: ClassVar[str] = "reserve"
    key: str | None
    product: str
    slots: tuple[str, ...]
    proposal: str | None = None
    """Code of the proposed set that is reserved."""
    seen: Mapping[str, int] = field(default_factory=dict)
    """Serial to the part's last entry when the screen was drawn; absent: whatever it is."""
    asked: dict[str, Any] | None = None
    reason: str = ""

    def body(self) -> Any:
        """The product and its slots, and what else was given."""
        found: dict[str, Any] = {"product": self.product, "slots": list(self.slots)}
        more = {
            "proposal": self.proposal,
            "seen": dict(self.seen),
            "asked": self.asked,
            "reason": self.reason,
        }
        return {**found, **{name: value for name, value in more.items() if value}}

    def subject(self) -> str:
        """The product."""
        return self.product


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """Give some slots of a reserved set other blades; those that leave are free again."""

    operation: ClassVar[str] = "mend a set"
    key: str | None
    set: str
    slots: tuple[str, ...]
    reason: str
    seen: Mapping[str, int] = field(default_factory=dict)
    seen_set: int | None = None
    """The set's last entry when the screen was drawn."""

    def body(self) -> Any:
        """The set, its new slots, the reason."""
        found = {"set": self.set, "slots": list(self.slots), "reason": self.reason}
        return {**found, "seen": dict(self.seen), "seen_set": self.seen_set}

    def subject(self) -> str:
        """The set."""
        return self.set


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveBack:
    """Give the set up; its blades are free again."""

    operation: ClassVar[str] = "give-back"
    key: str | None
    set: str
    reason: str

    def body(self) -> Any:
        """The set and the reason."""
        return {"set": self.set, "reason": self.reason}

    def subject(self) -> str:
        """The set."""
        return self.set


def propose(tx: Tx, command: Propose) -> dict[str, Any]:
    """Record the answer as a set of its own; raises Missing for a blade that is unknown."""
    slots = _slots(tx, command.product, command.slots)
    desks = desks_of(tx, slots)
    fact = facts.SetProposed(
        product=command.product,
        slots=slots,
        readings=_readings(desks),
        asked=command.asked,
    )
    code = next_code(tx.connection, tx.site.id, command.product)
    record(tx, code, fact, [], key=command.key)
    return view(code, command.product, slots)


def reserve(tx: Tx, command: Reserve) -> dict[str, Any]:
    """Keep every blade for the set; raises Clash, naming each that is not free, and why."""
    slots = _slots(tx, command.product, command.slots)
    code, history = _code(tx, command)
    desks = desks_of(tx, slots)
    _check_free(desks, command.product, code, command.seen)
    fact = facts.SetReserved(
        product=command.product,
        slots=slots,
        readings=_readings(desks),
        asked=command.asked,
        reason=said(command.reason) or None,
    )
    record(tx, code, fact, history, key=command.key)
    record_each(tx, desks, _kept(code, slots))
    return view(code, command.product, slots)


def _code(tx: Tx, command: Reserve) -> tuple[str, list[Entry]]:
    if command.proposal is None:
        return next_code(tx.connection, tx.site.id, command.product), []
    found, history = open_set(tx, command.proposal)
    if found.product != command.product:
        raise Refused(f"{found.code} is of {found.product}, not of {command.product}")
    return found.code, history


def _kept(code: str, slots: Sequence[str]) -> dict[str, parts.PartFact]:
    return {serial: parts.Reserved(set=code, slot=slot) for slot, serial in enumerate(slots, 1)}


def mend(tx: Tx, command: Mend) -> dict[str, Any]:
    """Change the slots; blades that leave are given back, those that enter must be free."""
    reason = needed(command.reason, "say why the set is mended (reason)")
    found, history = open_set(tx, command.set)
    check_seen_set(found, command.seen_set)
    slots = _slots(tx, found.product, command.slots)
    moved = [serial for slot, serial in enumerate(slots, 1) if found.slot_of(serial) != slot]
    left = [serial for serial in found.slots if serial not in slots]
    if not moved and not left:
        raise Refused("every blade stays where it is; there is nothing to mend")
    desks = desks_of(tx, [*slots, *left])
    entering = {serial: desks[serial] for serial in slots if serial not in found.slots}
    _check_free(entering, found.product, found.code, command.seen)
    stays = {serial: desks[serial] for serial in slots}
    fact = facts.SetMended(slots=slots, readings=_readings(stays), reason=reason)
    record(tx, found.code, fact, history, key=command.key)
    booked: dict[str, parts.PartFact] = {
        serial: parts.GivenBack(set=found.code, reason=reason) for serial in left
    }
    kept = _kept(found.code, slots)
    booked.update(
        (serial, kept[serial]) for serial in moved if desks[serial].part.place != FITTED
    )
    record_each(tx, desks, booked)
    return {**view(found.code, found.product, slots), "left": left, "entered": list(entering)}


def give_back(tx: Tx, command: GiveBack) -> dict[str, Any]:
    """Free every blade of the set; raises Missing, or Refused while one of them is fitted."""
    reason = needed(command.reason, "say why the set is given back (reason)")
    found, history = open_set(tx, command.set)
    record(tx, found.code, facts.SetGivenBack(reason=reason), history, key=command.key)
    if found.holding:
        desks = desks_of(tx, found.slots)
        fact = parts.GivenBack(set=found.code, reason=reason)
        record_each(tx, desks, dict.fromkeys(found.slots, fact))
    return view(found.code, found.product, found.slots)


def view(code: str, product: str, slots: Sequence[str]) -> dict[str, Any]:
    """A set as its commands answer it."""
    return {"set": code, "product": product, "slots": list(slots)}


def _slots(tx: Tx, product: str, given: Sequence[str]) -> tuple[str, ...]:
    """The serials of the slots, marks resolved; raises Refused for a set of a wrong size."""
    check_code("product", product)
    for serial in given:
        check_code("serial", serial)
    revisions = read_revisions(tx.connection, tx.site.id, product)
    if not revisions:
        raise Refused(f"no product {product!r} at this site; load its route card first")
    size = revisions[-1].card.set_size
    if size is not None and len(given) > size:
        raise Refused(f"a set of {product} has {size} slots, not {len(given)}")
    return tuple(
        check_slots([resolve_serial(tx.connection, tx.site, serial) for serial in given])
    )


def desks_of(tx: Tx, serials: Sequence[str]) -> dict[str, Desk]:
    """A desk for each blade; raises Missing naming those that do not exist."""
    desks = open_desks(tx, serials)
    unknown = [serial for serial, desk in desks.items() if desk.part.card is None]
    if unknown:
        raise Missing(f"there is no part {listed(unknown)}; nothing was booked")
    return desks


def _check_free(
    desks: Mapping[str, Desk], product: str, code: str, seen: Mapping[str, int]
) -> None:
    """Raise Clash naming every blade that is taken, held or otherwise not to be had."""
    taken = [why for desk in desks.values() if (why := why_not_free(desk.part, product, code))]
    if taken:
        raise Clash(f"{listed(taken, '; ')}. Nothing was reserved", code="not-free")
    acted = [
        serial
        for serial, desk in desks.items()
        if serial in seen and desk.part.last_seq != seen[serial]
    ]
    if acted:
        raise Clash(
            f"somebody acted on {listed(acted)} since you looked. Nothing was reserved; "
            "look again and decide anew",
            code="acted-first",
        )


def _readings(desks: Mapping[str, Desk]) -> Readings:
    return {serial: readings_of(desk.part).by_role() for serial, desk in desks.items()}


def open_set(tx: Tx, code: str) -> tuple[BladeSet, list[Entry]]:
    """A set as it stands, and its facts; raises Missing."""
    history = tx.history("set", code)
    if not history:
        raise Missing(f"there is no set {code} at {tx.site.name or tx.site.code}")
    return fold(code, history), history


def check_seen_set(found: BladeSet, seen: int | None) -> None:
    """Raise Clash when somebody acted on the set since the screen was drawn."""
    if seen is not None and found.last_seq != seen:
        raise Clash(
            f"somebody acted on {found.code} first; it is {found.state} now. "
            "Look again and decide anew",
            code="acted-first",
        )


def record(
    tx: Tx, code: str, fact: facts.SetFact, history: list[Entry], *, key: str | None
) -> Entry:
    """Append a fact to the set if its history obeys; raises Refused."""
    trial = Entry(
        2**53, fact.kind, tx.now_us, tx.now_us, tx.actor.code, "", None, fact.payload()
    )
    fold(code, [*history, trial])
    return tx.append(Draft(fact=fact, subject=code, at_us=tx.now_us, key=key), history)


HANDLINGS: dict[type, Handling] = {
    Propose: Handling(propose, allows("build sets")),
    Reserve: Handling(reserve, allows("reserve")),
    Mend: Handling(mend, allows("reserve")),
    GiveBack: Handling(give_back, allows("give back")),
}
