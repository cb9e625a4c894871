"""Acts on a part that are no history row: inspect, stop, sentence, correct, move, and the like.

Every act carries the entry number its screen was drawn from (`seen`): if somebody acted on the
part since, it is refused and both versions are shown.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, ClassVar

from ringwright.bench.rules import check_text
from ringwright.bench.service import (
    Desk,
    check_floor,
    open_desk,
)
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Tx
from ringwright.parts import facts
from ringwright.parts.state import Part
from ringwright.people.allowing import permits
from ringwright.routecards.card import Characteristic
from ringwright.sites.queries import person_known


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What every act on a part carries."""

    operation: ClassVar[str] = ""
    permission: ClassVar[str] = ""
    serial: str
    key: str | None
    station: str = ""
    seen: int | None = None

    def body(self) -> Any:
        """All given fields but the key."""
        found = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "key"}
        return {name: value for name, value in found.items() if value not in (None, "", ())}

    def subject(self) -> str:
        """The part."""
        return self.serial


def act_allowed(command: Act, actor: Actor) -> bool:
    """True when one of the actor's roles may do it."""
    return permits(actor, command.permission)


def desk_of(tx: Tx, act: Act) -> Desk:
    """The part an act is about; raises Missing, or Clash when somebody acted on it first."""
    for item in fields(act):
        value = getattr(act, item.name)
        if isinstance(value, str):
            check_text(item.name, value)
    desk = open_desk(tx, act.serial)
    if desk.part.card is None:
        raise Missing(f"there is no part {act.serial}; check the serial and scan again")
    desk.check_seen(act.seen)
    return desk


def done(desk: Desk, act: Act, fact: facts.PartFact, **more: Any) -> dict[str, Any]:
    """Record the act's fact and answer it."""
    entry = desk.record(fact, station=act.station, **more)
    return desk.answer(entry, act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspect(Act):
    """Enter readings and end the visit with a pass or a listed rework, in one go."""

    operation: ClassVar[str] = "inspect"
    permission: ClassVar[str] = "pass"
    readings: dict[str, float] = field(default_factory=dict)
    gauge: str | None = None
    outcome: str = "pass"
    card: str | None = None
    defect: str | None = None


def inspect_allowed(command: Inspect, actor: Actor) -> bool:
    """True when the actor may give this outcome."""
    return permits(actor, "rework" if command.outcome == "rework" else "pass")


def inspect(tx: Tx, act: Inspect) -> dict[str, Any]:
    """Record the readings and the outcome together, or nothing.

    A pass needs every characteristic of the step read in this visit, the last reading inside.
    """
    desk = desk_of(tx, act)
    step = _step_in_work(desk.part)
    if act.outcome not in ("pass", "rework"):
        raise Refused("at the bench a visit ends with pass or rework; anything else is a stop")
    if act.outcome == "rework" and desk.part.route.rework_cards and act.card is None:
        raise Refused("say which rework card; the part then waits at the card's first step")
    fact = facts.Ended(step=step, outcome=act.outcome, card=act.card, defect=act.defect or None)
    check_floor(desk.part, fact, tx.actor.code, tx.actor, None)
    for code, value in sorted(act.readings.items()):
        _read(desk, act, step, code, value, act.gauge)
    if act.outcome == "pass":
        check_fully_read(desk.part)
    return done(desk, act, fact, key=act.key)


def _step_in_work(part: Part) -> int:
    visit = part.open_visit
    if visit is None or visit.step is None:
        raise Refused(f"{part.serial} has no open visit; it is {part.place}. Begin first")
    return visit.step


def _read(
    desk: Desk, act: Act, step: int, code: str, value: float, gauge: str | None = None
) -> None:
    characteristic = desk.part.route.by_number[step].characteristic(code)
    if characteristic is None:
        raise Refused(f"step {step} reads no characteristic {code}")
    fact = facts.Measured(
        step=step,
        characteristic=code,
        value=float(value),
        unit=characteristic.unit,
        gauge=gauge,
    )
    desk.record(fact, station=act.station)


def latest_readings(part: Part) -> dict[str, float]:
    """Characteristic to the last value read in the open visit."""
    visit = part.open_visit
    if visit is None:
        return {}
    return {row.characteristic: row.value for row in part.readings if row.visit == visit.number}


def check_fully_read(part: Part) -> None:
    """Refuse a pass while a characteristic is unread or its last reading lies outside."""
    step = part.route.by_number[_step_in_work(part)]
    read = latest_readings(part)
    unread = [c.code for c in step.characteristics if c.code not in read]
    if unread:
        raise Refused(f"not read yet: {', '.join(unread)}; read them, then pass")
    outside = [c for c in step.characteristics if not c.inside(read[c.code])]
    if outside:
        listed = ", ".join(_outside(c, read[c.code]) for c in outside)
        raise Refused(f"outside its limits: {listed}. Rework it or stop it")


def _outside(characteristic: Characteristic, value: float) -> str:
    digits = characteristic.decimals
    return f"{characteristic.code} {value:.{digits}f} {characteristic.unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class EnterReadings(Act):
    """Keep readings of the open visit without ending it."""

    operation: ClassVar[str] = "enter readings"
    permission: ClassVar[str] = "measure"
    readings: dict[str, float] = field(default_factory=dict)
    gauge: str | None = None
    """The gauge they were all read with, where it was scanned."""


def enter_readings(tx: Tx, act: EnterReadings) -> dict[str, Any]:
    """Record each reading; raises Refused when none was given or one makes no sense."""
    desk = desk_of(tx, act)
    step = _step_in_work(desk.part)
    if not act.readings:
        raise Refused("no reading was given; type at least one")
    for code, value in sorted(act.readings.items()):
        _read(desk, act, step, code, value, act.gauge)
    return desk.answer(desk.history[-1], act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop(Act):
    """Something is wrong with the part."""

    operation: ClassVar[str] = "stop"
    permission: ClassVar[str] = "stop"
    defect: str
    characteristic: str | None = None
    place_on_part: str | None = None
    reason: str | None = None
    readings: dict[str, float] = field(default_factory=dict)


def stop(tx: Tx, act: Stop) -> dict[str, Any]:
    """Pause the visit, open a nonconformity, hold the part; readings given are kept."""
    desk = desk_of(tx, act)
    if not act.defect.strip():
        raise Refused("say what is wrong (defect); nothing was booked")
    if act.readings:
        step = _step_in_work(desk.part)
        for code, value in sorted(act.readings.items()):
            _read(desk, act, step, code, value)
    fact = facts.Stopped(
        defect=act.defect,
        characteristic=act.characteristic,
        step=desk.part.step,
        place_on_part=act.place_on_part,
        reason=act.reason,
    )
    return done(desk, act, fact, key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence(Act):
    """The decision on a nonconformity."""

    operation: ClassVar[str] = "sentence"
    nonconformity: int
    decision: str
    reason: str | None = None
    card: str | None = None
    defect: str | None = None
    place_on_part: str | None = None
    caused_step: int | None = None
    document: str | None = None
    scope: str | None = None
    expires: str | None = None
    quantity: int | None = None
    customer_approval: str | None = None
    kept: str | None = None


def sentence_allowed(command: Sentence, actor: Actor) -> bool:
    """Rework, scrap and withdrawal are the quality engineer's, the rest the delegate's."""
    needed = command.decision if command.decision in ("repair", "concession") else "sentence"
    return permits(actor, needed)


def sentence(tx: Tx, act: Sentence) -> dict[str, Any]:
    """Close the nonconformity and send the part where the decision says."""
    desk = desk_of(tx, act)
    _check_sentence(act, desk.part)
    if tx.actor.code in desk.part.workers and not tx.actor.self_inspection:
        raise Forbidden(f"{tx.actor.code} worked on {desk.part.serial} and may not sentence it")
    names = [f.name for f in fields(facts.Sentenced) if f.name != "lot"]
    given: dict[str, Any] = {name: getattr(act, name) or None for name in names}
    return done(desk, act, facts.Sentenced(**given), key=act.key)


def _check_sentence(act: Sentence, part: Part) -> None:
    if act.decision not in facts.DECISIONS:
        raise Refused(f"{act.decision!r} is none of {', '.join(facts.DECISIONS)}")
    if act.decision in ("repair", "concession"):
        _check_document(act)
    if act.decision == "scrap":
        _check_scrap(act)
    if act.decision == "rework" and part.route.rework_cards and not act.card:
        raise Refused("say which rework card the part goes on")
    if act.decision == "withdrawn" and not act.reason:
        raise Refused("say why nothing is wrong (reason)")
    if act.caused_step is not None and act.caused_step not in part.route.index:
        raise Refused(f"{part.route.product} has no step {act.caused_step}")


def _check_document(act: Sentence) -> None:
    needed = (("document number", act.document), ("scope", act.scope))
    lacking = [word for word, value in needed if not value]
    if not act.expires and not act.quantity:
        lacking.append("expiry or quantity")
    if lacking:
        raise Refused(f"a {act.decision} needs its {' and '.join(lacking)}")


def _check_scrap(act: Sentence) -> None:
    if not act.defect or act.caused_step is None:
        raise Refused("a scrap needs its defect and the step that caused it")
    if act.kept not in ("marked", "locked-up"):
        raise Refused("say whether the scrapped part is marked or locked up")


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness(Act):
    """A scrapped part was seen made unusable."""

    operation: ClassVar[str] = "witness"
    permission: ClassVar[str] = "witness"
    how: str


def witness(tx: Tx, act: Witness) -> dict[str, Any]:
    """Record who saw it and how it was made unusable."""
    desk = desk_of(tx, act)
    if not act.how.strip():
        raise Refused("say how the part was made unusable")
    return done(desk, act, facts.Witnessed(how=act.how), key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move(Act):
    """The part lies somewhere else now."""

    operation: ClassVar[str] = "move"
    permission: ClassVar[str] = "move"
    to: str


def move(tx: Tx, act: Move) -> dict[str, Any]:
    """Record the new whereabouts."""
    desk = desk_of(tx, act)
    if not act.to.strip():
        raise Refused("scan where the part lies now")
    return done(desk, act, facts.Moved(to=act.to), key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOver(Act):
    """The open visit goes on in other hands."""

    operation: ClassVar[str] = "hand over"
    permission: ClassVar[str] = "visit"
    to: str


def hand_over(tx: Tx, act: HandOver) -> dict[str, Any]:
    """Pause by the one, resume by the other; touch time goes on unbroken."""
    desk = desk_of(tx, act)
    step = _step_in_work(desk.part)
    person_known(tx.connection, tx.site.id, act.to)
    if desk.part.paused_since_us is None:
        pause = facts.Paused(step=step, reason=f"handed over to {act.to}")
        desk.record(pause, station=act.station)
    return done(desk, act, facts.Resumed(step=step), key=act.key, actor=act.to)


HANDLINGS: dict[type, Handling] = {
    Inspect: Handling(inspect, inspect_allowed),
    Sentence: Handling(sentence, sentence_allowed),
    **{
        command: Handling(handler, act_allowed)
        for command, handler in (
            (EnterReadings, enter_readings),
            (Stop, stop),
            (Witness, witness),
            (Move, move),
            (HandOver, hand_over),
        )
    },
}
