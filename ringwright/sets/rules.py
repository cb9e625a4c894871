"""What a set's history must obey, and where each fact leaves the set."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry

PROPOSED, RESERVED, HANDED_OVER = "proposed", "reserved", "handed over"
FITTED, SENT, GIVEN_BACK = "fitted", "sent", "given back"
HOLDING: Final = frozenset({RESERVED, HANDED_OVER, FITTED, SENT})
"""States in which its blades can be in no other set."""
UNCHANGING: Final = frozenset({"inspection", "receipt", "dispatch"})
"""Kinds of step that leave material, coating and shape as they were. After a visit to any
other step (a cleaning may etch) moment, frequency and dimensions have lapsed."""

Readings = dict[str, dict[str, float | None]]


@dataclass(slots=True)
class BladeSet:
    """A set as its facts have left it so far."""

    code: str
    product: str = ""
    state: str = ""
    slots: list[str] = field(default_factory=list)
    """Serials planned for slot 1 … N."""
    fitted: dict[int, str] = field(default_factory=dict)
    """Slot to the serial that stands in it."""
    readings: Readings = field(default_factory=dict)
    asked: dict[str, Any] | None = None
    weights: tuple[dict[str, float], ...] = ()
    to: str | None = None
    by: str = ""
    """Who reserved it, or proposed it."""
    times: dict[str, int] = field(default_factory=dict)
    """State to the instant it last came into it, µs UTC."""
    reason: str | None = None
    """Why it was given back."""
    first_seq: int = 0
    last_seq: int = 0

    @property
    def holding(self) -> bool:
        """True while its blades are kept for it."""
        return self.state in HOLDING

    def slot_of(self, serial: str) -> int | None:
        """The slot planned for a blade."""
        return self.slots.index(serial) + 1 if serial in self.slots else None

    def standing(self) -> list[str | None]:
        """What stands in slot 1 … N as fitted; None where nothing does."""
        return [self.fitted.get(slot) for slot in range(1, len(self.slots) + 1)]


def fold(code: str, entries: Sequence[Entry]) -> BladeSet:
    """The set after its facts, in recorded order; raises Refused where they break a rule."""
    found = BladeSet(code)
    for entry in entries:
        apply(found, entry)
    return found


def apply(found: BladeSet, entry: Entry) -> None:
    """Move the set on by one fact; raises Refused and leaves it as it was."""
    if not found.state and entry.kind not in ("propose", "reserve"):
        raise Refused(f"there is no set {found.code}")
    before = found.state
    RULES[entry.kind](found, entry)
    if found.state != before:
        found.times[found.state] = entry.at_us
    found.first_seq = found.first_seq or entry.seq
    found.last_seq = entry.seq


def _must_be(found: BladeSet, states: frozenset[str], verb: str) -> None:
    if found.state not in states:
        raise Refused(f"{found.code} is {found.state}; it cannot be {verb}")


def _propose(found: BladeSet, entry: Entry) -> None:
    if found.state:
        raise Refused(f"{found.code} exists already")
    _take(found, entry)
    found.state = PROPOSED


def _reserve(found: BladeSet, entry: Entry) -> None:
    if found.state not in ("", PROPOSED):
        raise Refused(f"{found.code} is {found.state} already")
    _take(found, entry)
    found.state = RESERVED


def _take(found: BladeSet, entry: Entry) -> None:
    data = entry.data
    found.product, found.by = data["product"], entry.actor
    found.slots = check_slots(data["slots"])
    found.readings, found.asked = data["readings"], data.get("asked")


def check_slots(slots: Sequence[str]) -> list[str]:
    """The serials of slot 1 … N; raises Refused for fewer than two, or one named twice."""
    if len(slots) < 2:
        raise Refused("a set has at least two slots")
    twice = sorted({serial for serial in slots if slots.count(serial) > 1})
    if twice:
        raise Refused(f"{', '.join(twice)} stands in two slots; a blade has one")
    return list(slots)


def _mend(found: BladeSet, entry: Entry) -> None:
    _must_be(found, frozenset({RESERVED, HANDED_OVER, FITTED}), "mended")
    slots = check_slots(entry.data["slots"])
    if len(slots) != len(found.slots):
        raise Refused(f"{found.code} has {len(found.slots)} slots, not {len(slots)}")
    for slot, serial in found.fitted.items():
        if serial not in slots:
            raise Refused(f"{serial} is fitted in slot {slot}; take it out first")
    found.slots, found.readings = slots, entry.data["readings"]


def _give_back(found: BladeSet, entry: Entry) -> None:
    _must_be(found, frozenset({PROPOSED, RESERVED, HANDED_OVER}), "given back")
    if found.fitted:
        listed = ", ".join(f"{serial} in slot {slot}" for slot, serial in found.fitted.items())
        raise Refused(f"{found.code} is partly fitted: {listed}; take them out first")
    found.state, found.reason = GIVEN_BACK, entry.data.get("reason")


def _hand_over(found: BladeSet, entry: Entry) -> None:
    _must_be(found, frozenset({RESERVED}), "handed over")
    found.state, found.to = HANDED_OVER, entry.data["to"]


def _fit(found: BladeSet, entry: Entry) -> None:
    slot, serial = entry.data["slot"], entry.data["serial"]
    check_fit(found, slot, serial)
    found.fitted[slot] = serial
    if len(found.fitted) == len(found.slots):
        found.state = FITTED


def check_fit(found: BladeSet, slot: int, serial: str) -> None:
    """Refuse a slot or blade that the set does not have, or that is taken."""
    if found.state == RESERVED:
        raise Refused(f"{found.code} is not handed over to build yet; hand it over first")
    if 1 <= slot <= len(found.slots) and slot in found.fitted:
        raise Refused(f"slot {slot} holds {found.fitted[slot]} already; take it out first")
    _must_be(found, frozenset({HANDED_OVER}), "fitted")
    if not 1 <= slot <= len(found.slots):
        raise Refused(f"{found.code} has slots 1 to {len(found.slots)}, not {slot}")
    if serial not in found.slots:
        raise Refused(f"{serial} is no blade of {found.code}; put it back where it came from")
    for other, there in found.fitted.items():
        if there == serial:
            raise Refused(f"{serial} stands in slot {other} already")


def _return(found: BladeSet, entry: Entry) -> None:
    slot, serial = entry.data["slot"], entry.data["serial"]
    if found.state not in (HANDED_OVER, FITTED) or found.fitted.get(slot) != serial:
        raise Refused(f"{serial} does not stand in slot {slot} of {found.code}")
    del found.fitted[slot]
    found.state, found.weights = HANDED_OVER, ()


def _weigh_in(found: BladeSet, entry: Entry) -> None:
    _must_be(found, frozenset({FITTED}), "corrected with weights")
    found.weights = tuple(dict(weight) for weight in entry.data.get("weights", ()))


def _send(found: BladeSet, entry: Entry) -> None:
    del entry
    _must_be(found, frozenset({FITTED}), "sent")
    found.state = SENT


RULES: dict[str, Callable[[BladeSet, Entry], None]] = {
    "propose": _propose,
    "reserve": _reserve,
    "mend": _mend,
    "give-back": _give_back,
    "hand-over": _hand_over,
    "fit": _fit,
    "return": _return,
    "weigh-in": _weigh_in,
    "send": _send,
}


def stem_of(product: str) -> str:
    """What a set's code begins with: the product up to its last hyphen, and `-S`."""
    return f"{product.rsplit('-', 1)[0] or product}-S"
