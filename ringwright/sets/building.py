"""Hand a set over, fit it slot by slot, take blades out, place weights, send it; rotor data."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.bench.many import record_each
from ringwright.bench.rules import needed, said
from ringwright.core.errors import Clash, Refused
from ringwright.core.facts import Entry
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.parts import facts as parts
from ringwright.parts.queries import resolve_serial
from ringwright.parts.state import Part
from ringwright.people.allowing import allows
from ringwright.routecards.queries import read_revisions
from ringwright.sets import facts
from ringwright.sets.blades import why_suspect
from ringwright.sets.rotor import Rotor, rotor_of
from ringwright.sets.rules import BladeSet, check_fit
from ringwright.sets.service import (
    check_seen_set,
    desks_of,
    open_set,
    record,
    view,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnSet:
    """What every act on a set carries."""

    operation: ClassVar[str] = ""
    key: str | None
    set: str
    seen: int | None = None
    """The set's last entry when the screen was drawn; None: whatever it is."""

    def given(self) -> dict[str, Any]:
        """The act's own fields."""
        return {}

    def body(self) -> Any:
        """The set and what is done with it."""
        found = {"set": self.set, **self.given()}
        return found if self.seen is None else {**found, "seen": self.seen}

    def subject(self) -> str:
        """The set."""
        return self.set


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOver(OnSet):
    """The set goes to build."""

    operation: ClassVar[str] = "hand-over"
    to: str

    def given(self) -> dict[str, Any]:
        """To whom."""
        return {"to": self.to}


def hand_over(tx: Tx, act: HandOver) -> dict[str, Any]:
    """Record to whom the set went; raises Clash while it lacks a blade."""
    to = needed(act.to, "say to whom the set goes")
    found, history = _opened(tx, act)
    desks = desks_of(tx, found.slots)
    lacking = [why for desk in desks.values() if (why := why_lacking(desk.part))]
    if lacking:
        raise Clash(
            f"{found.code} lacks {len(lacking)}: {lacking[0]}. Mend it first", code="lacking"
        )
    record(tx, found.code, facts.SetHandedOver(to=to), history, key=act.key)
    return view(found.code, found.product, found.slots)


def why_lacking(part: Part) -> str | None:
    """Why a blade that is kept for a set does not count in it now; None when it does."""
    if part.place not in ("released", "fitted", "sent"):
        return f"{part.serial} is {part.place}, not released"
    if part.open_hold is not None:
        return f"{part.serial} is on hold: {part.open_hold.reason}"
    return why_suspect(part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit(OnSet):
    """A blade was put into a slot of the disc."""

    operation: ClassVar[str] = "fit"
    slot: int
    serial: str

    def given(self) -> dict[str, Any]:
        """The slot and the blade."""
        return {"slot": self.slot, "serial": self.serial}


def fit(tx: Tx, act: Fit) -> dict[str, Any]:
    """Record the blade in the slot it was put into, planned there or not."""
    found, history = _opened(tx, act)
    serial = resolve_serial(tx.connection, tx.site, act.serial)
    check_fit(found, act.slot, serial)
    desks = desks_of(tx, [serial])
    lacking = why_lacking(desks[serial].part)
    if lacking:
        raise Clash(f"{lacking}. It was not fitted", code="lacking")
    fact = facts.SlotFitted(slot=act.slot, serial=serial)
    record(tx, found.code, fact, history, key=act.key)
    record_each(tx, desks, {serial: parts.Fitted(set=found.code, slot=act.slot)})
    return {**_slot_view(found, act.slot, serial), "planned_slot": found.slot_of(serial)}


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOut(OnSet):
    """A blade was taken out of its slot again."""

    operation: ClassVar[str] = "return"
    slot: int
    serial: str
    reason: str

    def given(self) -> dict[str, Any]:
        """The slot, the blade and why."""
        return {"slot": self.slot, "serial": self.serial, "reason": self.reason}


def take_out(tx: Tx, act: TakeOut) -> dict[str, Any]:
    """Record the slot empty; weights that were placed count no more."""
    reason = needed(act.reason, "say why the blade is taken out (reason)")
    found, history = _opened(tx, act)
    serial = resolve_serial(tx.connection, tx.site, act.serial)
    fact = facts.SlotReturned(slot=act.slot, serial=serial, reason=reason)
    record(tx, found.code, fact, history, key=act.key)
    back = parts.Returned(set=found.code, slot=act.slot, reason=reason)
    record_each(tx, desks_of(tx, [serial]), {serial: back})
    return _slot_view(found, act.slot, serial)


def _slot_view(found: BladeSet, slot: int, serial: str) -> dict[str, Any]:
    return {"set": found.code, "product": found.product, "slot": slot, "serial": serial}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceWeights(OnSet):
    """Balance weights or screws were placed on the fitted set."""

    operation: ClassVar[str] = "place weights"
    weights: tuple[tuple[float, float], ...]
    """(angle from slot 1 with rising slot number in degrees, moment in g·mm) of each."""
    reason: str = ""

    def given(self) -> dict[str, Any]:
        """The weights and the remark."""
        return {"weights": [list(weight) for weight in self.weights], "reason": self.reason}


def place_weights(tx: Tx, act: PlaceWeights) -> dict[str, Any]:
    """Record the weights in place of any recorded before."""
    found, history = _opened(tx, act)
    if not act.weights:
        raise Refused("name at least one weight")
    for angle_deg, moment_g_mm in act.weights:
        if not (0 <= angle_deg < 360 and math.isfinite(moment_g_mm) and moment_g_mm > 0):
            raise Refused("a weight has an angle from 0 to under 360 and a moment above 0")
    placed = tuple(
        {"angle_deg": angle_deg, "moment_g_mm": moment_g_mm}
        for angle_deg, moment_g_mm in act.weights
    )
    fact = facts.WeightsPlaced(weights=placed, reason=said(act.reason) or None)
    record(tx, found.code, fact, history, key=act.key)
    return view(found.code, found.product, found.slots)


@dataclass(frozen=True, slots=True, kw_only=True)
class SendSet(OnSet):
    """The fitted set leaves the site."""

    operation: ClassVar[str] = "send a set"
    reason: str = ""

    def given(self) -> dict[str, Any]:
        """The remark."""
        return {"reason": self.reason}


def send_set(tx: Tx, act: SendSet) -> dict[str, Any]:
    """Record the set and each of its blades as sent."""
    found, history = _opened(tx, act)
    reason = said(act.reason) or None
    record(tx, found.code, facts.SetSent(reason=reason), history, key=act.key)
    fitted = list(found.fitted.values())
    sent = parts.Sent(reason=reason)
    record_each(tx, desks_of(tx, fitted), dict.fromkeys(fitted, sent))
    return view(found.code, found.product, found.slots)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRotor:
    """Enter what is known and allowed of a product's rotor."""

    operation: ClassVar[str] = "set a rotor"
    key: str | None
    product: str
    rotor: dict[str, Any]
    reason: str

    def body(self) -> Any:
        """The product, its rotor, the reason."""
        return {"product": self.product, "rotor": self.rotor, "reason": self.reason}

    def subject(self) -> str:
        """The product."""
        return self.product


def set_rotor(tx: Tx, act: SetRotor) -> dict[str, Any]:
    """Record the rotor from now on; raises Refused for a product or field that is unknown."""
    reason = needed(act.reason, "say where these values come from (reason)")
    if not read_revisions(tx.connection, tx.site.id, act.product):
        raise Refused(f"no product {act.product!r} at this site; load its route card first")
    rotor = rotor_of(act.rotor)
    _check_share(rotor)
    fact = facts.RotorSet(rotor=rotor.data(), reason=reason)
    draft = Draft(fact=fact, subject=act.product, at_us=tx.now_us, key=act.key)
    entry = tx.append(draft)
    return {"product": act.product, "rotor": rotor.data(), "entry": entry.seq}


def _check_share(rotor: Rotor) -> None:
    # When entered, not in Rotor itself: what the record holds already must stay readable.
    whole, share = rotor.permissible_g_mm, rotor.share_g_mm
    if whole is not None and share is not None and share > whole:
        raise Refused(
            f"share_g_mm {share:g} is more than the whole permissible residual unbalance, "
            f"{whole:.5g} g·mm by ISO 21940-11; check mass, speed, grade and share"
        )


def _opened(tx: Tx, act: OnSet) -> tuple[BladeSet, list[Entry]]:
    found, history = open_set(tx, act.set)
    check_seen_set(found, act.seen)
    return found, history


HANDLINGS: dict[type, Handling] = {
    HandOver: Handling(hand_over, allows("hand over")),
    Fit: Handling(fit, allows("fit")),
    TakeOut: Handling(take_out, allows("fit")),
    PlaceWeights: Handling(place_weights, allows("fit")),
    SendSet: Handling(send_set, allows("send")),
    SetRotor: Handling(set_rotor, allows("rotor")),
}
