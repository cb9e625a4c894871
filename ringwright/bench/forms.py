"""What the Bench's forms and scans say, as commands; nothing is booked here."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from ringwright.attachments.content import judged
from ringwright.bench.acts import (
    EnterReadings,
    HandOver,
    Inspect,
    Move,
    Sentence,
    Stop,
    Witness,
)
from ringwright.bench.attaching import Attach, Note
from ringwright.bench.correcting import Correct
from ringwright.bench.genealogy import Join, Remark, Split
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.kit.forms import Given
from ringwright.kit.scanned import scanned_text
from ringwright.kit.typed import parse_reading
from ringwright.parts.windows import RAN_OUT

CARDS: Final[dict[str, str]] = {
    "BEGIN": N_("Begin"),
    "KEEP": N_("Keep the readings"),
    "PASS": N_("Pass"),
    "REWORK": N_("Rework"),
    "STOP": N_("Stop"),
    "PAUSE": N_("Pause"),
    "RESUME": N_("Resume"),
}
"""Words of the act cards; one is printed as `RW:` and its word."""
WITH: Final = "with."
"""How the name of a field begins that holds the gauge of a kind."""
FOR_WINDOW: Final = "window"
"""The stop that one press books on a part whose window ran out (stop:window)."""
# Between the two a scanner may type another sign where keyboard layouts differ.
_CARD: Final = re.compile(r"RW[^A-Z0-9]?([A-Z]+)")


def clean_scan(text: str) -> str:
    """What was scanned, as the serial, mark or card that it means."""
    return scanned_text(text)


def card_of(text: str) -> str | None:
    """The word of an act card, in any case; None when it is none."""
    found = _CARD.fullmatch(text.upper())
    return found[1] if found and found[1] in CARDS else None


def plain_reading(value: float, decimals: int) -> str:
    """A reading with its characteristic's decimals; more where it was read finer."""
    exponent = Decimal(repr(value)).normalize().as_tuple().exponent
    finer = -exponent if isinstance(exponent, int) else 0
    return f"{value:.{max(decimals, finer)}f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One act asked for at the Bench: on which part, with which fields, at which station."""

    act: str
    serial: str
    given: Given
    station: str
    zone: str
    at_us: int | None = None
    """When it was pressed, where it waited for the network; None: now."""

    @property
    def key(self) -> str:
        """The key of the form as drawn; raises Refused when the form carries none."""
        key = self.given.text("key")
        if not key:
            raise Refused("the form carried no key; scan the part again")
        return key

    @property
    def told(self) -> str:
        """What the button says beyond its act: R1 of rework:R1."""
        return self.given.text("act").partition(":")[2]

    @property
    def common(self) -> dict[str, Any]:
        """What every act on a part carries."""
        return {
            "serial": self.serial,
            "key": self.key,
            "station": self.station,
            "seen": self.given.whole("seen"),
            "at_us": self.at_us,
        }

    @property
    def unseen(self) -> dict[str, Any]:
        """The same for what conflicts with nothing that somebody else may do meanwhile."""
        return {**self.common, "seen": None}

    def typed(self) -> dict[str, str]:
        """Characteristic to text, for every reading that differs from what is booked."""
        was = self.given.under("was.")
        found = self.given.under("reading.")
        return {code: text for code, text in found.items() if text and text != was.get(code)}

    def readings(self) -> dict[str, float]:
        """The typed readings as figures; raises Refused naming the characteristic."""
        return {code: self._reading(code, text) for code, text in self.typed().items()}

    def _reading(self, code: str, text: str) -> float:
        try:
            return parse_reading(text)
        except Refused as refusal:
            raise Refused(f"{code}: {refusal.message}") from None

    def read_with(self) -> dict[str, Any]:
        """The gauges chosen: one for each kind, and one for what names no kind."""
        chosen = {kind: code for kind, code in self.given.under(WITH).items() if code}
        return {"gauges": chosen, **self.optional("gauge")}

    def optional(self, *names: str) -> dict[str, Any]:
        """Fields that may stay empty."""
        return {name: self.given.text(name) or None for name in names}


def _book(order: Order) -> Book:
    unsaved = order.typed()
    if unsaved:
        raise Refused(
            f"typed but not booked: {', '.join(unsaved)}. "
            "Press Keep the readings, or empty the fields, then do it again"
        )
    fields = {"begin-at": "reason", "send": "send_reason"}
    fields |= dict.fromkeys(("hold", "unhold"), "hold_reason")
    reason = order.given.text(fields[order.act]) if order.act in fields else ""
    if order.act == "hold" and not reason:
        raise Refused("say why it must not move (reason)")
    row = {
        "act": "begin" if order.act == "begin-at" else order.act,
        "serial": order.serial,
        "step": _step_of(order),
        "station": order.station,
        "reason": reason,
        "key": order.key,
    }
    return Book(booking=make_booking(row, order.at_us), seen=order.given.whole("seen"))


def _step_of(order: Order) -> int | None:
    """The step that is due, that was chosen, or that is done again for a window (begin:60)."""
    again = order.told
    if order.act == "begin" and again.isascii() and again.isdigit() and len(again) < 10:
        return int(again)
    fields = {"begin": "due", "begin-at": "step"}
    return order.given.whole(fields[order.act]) if order.act in fields else None


def _pass(order: Order) -> Inspect:
    return Inspect(
        **order.common, readings=order.readings(), outcome="pass", **order.read_with()
    )


def _rework(order: Order) -> Inspect:
    code = order.told or None
    return Inspect(
        **order.common,
        readings=order.readings(),
        outcome="rework",
        card=code,
        defect=order.given.text("rework_defect") or None,
        **order.read_with(),
    )


def _keep(order: Order) -> EnterReadings:
    return EnterReadings(**order.common, readings=order.readings(), **order.read_with())


def _stop(order: Order) -> Stop:
    defect = order.given.text("defect") or order.given.text("tile")
    defect = RAN_OUT if order.told == FOR_WINDOW else defect
    return Stop(
        **order.common,
        defect=defect,
        place_on_part=order.given.text("place_on_part") or order.given.text("zone") or None,
        **order.optional("characteristic"),
        reason=order.given.text("note") or None,
        readings=order.readings(),
        gauges=order.read_with()["gauges"],
    )


def _hand_over(order: Order) -> HandOver:
    if order.typed():
        raise Refused("there are readings typed but not booked; press Keep the readings first")
    if not order.given.text("to"):
        raise Refused("choose whom it is handed to")
    return HandOver(**order.common, to=order.given.text("to"))


def _move(order: Order) -> Move:
    return Move(**order.common, to=order.given.text("place"))


def _witness(order: Order) -> Witness:
    return Witness(**order.common, how=order.given.text("how"))


def _remark(order: Order) -> Remark:
    scanned = clean_scan(order.given.text("scanned"))
    return Remark(**order.common, mark=clean_scan(order.given.text("mark")), scanned=scanned)


def _others(order: Order) -> tuple[str, ...]:
    lines = order.given.text("others").split("\n")
    return tuple(serial for line in lines if (serial := clean_scan(line)))


def _join(order: Order) -> Join:
    return Join(**order.common, members=_others(order))


def _split(order: Order) -> Split:
    return Split(**order.common, pieces=_others(order))


def _attach(order: Order) -> Attach:
    chosen = order.given.files.get("photo") or order.given.files.get("file")
    if chosen is None:
        raise Refused("choose a file or take a photo first")
    content = judged(chosen.content, chosen.name)
    shows = order.given.text("shows")
    return Attach(**order.unseen, content=content, shows=shows)


def _note(order: Order) -> Note:
    return Note(**order.unseen, text=order.given.text("note_text"))


def _take_back(order: Order) -> Correct:
    return Correct(**order.common, entry=order.given.whole("entry") or 0, void=True)


_ACTS: Final[dict[str, Callable[[Order], Any]]] = {
    "begin": _book,
    "begin-at": _book,
    "pause": _book,
    "resume": _book,
    "hold": _book,
    "unhold": _book,
    "pass": _pass,
    "rework": _rework,
    "keep": _keep,
    "stop": _stop,
    "hand-over": _hand_over,
    "move": _move,
    "witness": _witness,
    "take-back": _take_back,
    "attach": _attach,
    "note": _note,
    "send": _book,
    "remark": _remark,
    "join": _join,
    "split": _split,
}


def command_of(order: Order) -> Any:
    """The command of an act at the Bench; raises Refused for a form that says none."""
    make = _ACTS.get(order.act)
    if make is None:
        raise Refused("that act is not known here; scan the part again")
    return make(order)


def sentence_of(order: Order) -> Sentence:
    """The sentence of a nonconformity as its form says."""
    given = order.given
    decision = given.text("decision")
    document = decision in ("repair", "concession")
    scrap = decision == "scrap"
    names: tuple[str, ...] = ("reason", "card")
    names += ("document", "scope", "expires", "customer_approval") if document else ()
    names += ("defect", "place_on_part", "kept") if scrap else ()
    return Sentence(
        **order.common,
        nonconformity=given.whole("nonconformity") or 0,
        decision=decision,
        caused_step=given.whole("caused_step"),
        quantity=given.whole("quantity") if document else None,
        **order.optional(*names),
    )


def correction_of(order: Order) -> Correct:
    """The correction of an entry as its form says: void, or the fields that differ."""
    void = bool(order.given.text("void"))
    was = order.given.under("was.")
    changes: dict[str, Any] = {}
    for name, text in order.given.under("new.").items():
        if not void and text != was.get(name, ""):
            changes[name] = _changed(name, text, order.zone)
    return Correct(
        **order.common,
        entry=order.given.whole("entry") or 0,
        reason=order.given.text("reason"),
        void=void,
        changes=changes,
    )


def _changed(name: str, text: str, zone: str) -> Any:
    if name == "value":
        return parse_reading(text)
    if name == "at_us":
        try:
            return parse_instant(text, zone)
        except ValueError as trouble:
            raise Refused(f"at {text[:40]!r}: {trouble}") from None
    if name == "step":
        if not text.isascii() or not text.isdigit():
            raise Refused(f"step {text[:40]!r} is not a whole number")
        return int(text)
    return text or None
