"""Acts on a part that are no history row: inspect, stop, sentence, correct, move, and the like.

Every act carries the entry number its screen was drawn from (`seen`): if somebody acted on the
part since, it is refused and both versions are shown.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, ClassVar

from ringwright.bench.accepting import check_sentence, check_witness
from ringwright.bench.authorised import check_authorised
from ringwright.bench.reading import (
    Readings,
    Taken,
    check_fully_read,
    check_gauges_decide,
    check_when,
    enter,
    plain,
)
from ringwright.bench.rules import check_text
from ringwright.bench.service import (
    NEWEST,
    Desk,
    check_floor,
    open_desk,
)
from ringwright.bench.signing import sign_sentence
from ringwright.bench.welding import check_welds
from ringwright.core.errors import Missing, Refused
from ringwright.core.fields import as_data
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Tx
from ringwright.parts import facts
from ringwright.parts.knowledge import fold_before
from ringwright.parts.state import Part
from ringwright.people.allowing import may_act
from ringwright.sites.queries import person_known

LATER = ("taken", "gauges")
UNSAID = ("key", *LATER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What every act on a part carries."""

    operation: ClassVar[str] = ""
    permission: ClassVar[str] = ""
    serial: str
    key: str | None
    station: str = ""
    seen: int | None = None
    at_us: int | None = None
    """When it happened; None: now."""

    def body(self) -> Any:
        """All given fields but the key."""
        found = {f.name: getattr(self, f.name) for f in fields(self) if f.name not in UNSAID}
        said = {name: value for name, value in found.items() if value not in (None, "", ())}
        # Named only where used, so that a key of an older program keeps its digest.
        said |= {name: one for name in LATER if (one := getattr(self, name, None))}
        if "taken" in said:
            said["taken"] = {code: as_data(one) for code, one in said["taken"].items()}
        return said

    def subject(self) -> str:
        """The part."""
        return self.serial


def act_allowed(command: Act, actor: Actor) -> bool:
    """True when one of the actor's roles may do it."""
    return may_act(actor, command.permission)


def desk_of(tx: Tx, act: Act) -> Desk:
    """The part an act is about; raises Missing, or Clash when somebody acted on it first."""
    for item in fields(act):
        value = getattr(act, item.name)
        if isinstance(value, str):
            check_text(item.name, value)
    check_when(tx.now_us, act.at_us)
    desk = open_desk(tx, act.serial)
    if desk.part.card is None:
        raise Missing(f"there is no part {act.serial}; check the serial and scan again")
    desk.check_seen(act.seen)
    return desk


def done(desk: Desk, act: Act, fact: facts.PartFact, **more: Any) -> dict[str, Any]:
    """Record the act's fact and answer it."""
    entry = desk.record(fact, station=act.station, at_us=act.at_us, **more)
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
    taken: dict[str, Taken] = field(default_factory=dict)
    """Readings with more to them than a figure."""
    gauges: dict[str, str] = field(default_factory=dict)
    """Characteristic, or kind of gauge, to the gauge it was read with."""


def inspect_allowed(command: Inspect, actor: Actor) -> bool:
    """True when the actor may give this outcome."""
    return may_act(actor, "rework" if command.outcome == "rework" else "pass")


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
    check_floor(desk, fact, tx.actor.code, act.at_us)
    check_authorised(tx, desk.part, step, (tx.actor.code,), act.at_us)
    enter(desk, step, _readings(act))
    if act.outcome == "pass":
        check_fully_read(desk.part)
        check_gauges_decide(desk)
    return done(desk, act, fact, key=act.key)


def _readings(act: Inspect | EnterReadings) -> Readings:
    return Readings(
        taken={**plain(act.readings), **act.taken},
        gauges=act.gauges,
        gauge=act.gauge,
        at_us=act.at_us,
        station=act.station,
    )


def _step_in_work(part: Part) -> int:
    visit = part.open_visit
    if visit is None or visit.step is None:
        raise Refused(f"{part.serial} has no open visit; it is {part.place}. Begin first")
    return visit.step


def _step_then(desk: Desk, at_us: int | None) -> int:
    """The step in work when the readings were taken: that visit may have ended since."""
    if at_us is None or at_us >= desk.part.last_at_us:
        return _step_in_work(desk.part)
    place = (at_us, NEWEST)
    return _step_in_work(fold_before(desk.part.serial, desk.history, desk.find, place))


@dataclass(frozen=True, slots=True, kw_only=True)
class EnterReadings(Act):
    """Keep readings of the open visit without ending it."""

    operation: ClassVar[str] = "enter readings"
    permission: ClassVar[str] = "measure"
    readings: dict[str, float] = field(default_factory=dict)
    gauge: str | None = None
    """The gauge they were all read with, where it was scanned."""
    taken: dict[str, Taken] = field(default_factory=dict)
    """Readings with more to them than a figure."""
    gauges: dict[str, str] = field(default_factory=dict)
    """Characteristic, or kind of gauge, to the gauge it was read with."""


def enter_readings(tx: Tx, act: EnterReadings) -> dict[str, Any]:
    """Record each reading; raises Refused when none was given or one makes no sense."""
    desk = desk_of(tx, act)
    step = _step_then(desk, act.at_us)
    if not act.readings and not act.taken:
        raise Refused("no reading was given; type at least one")
    check_authorised(tx, desk.part, step, (tx.actor.code,), act.at_us)
    enter(desk, step, _readings(act))
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
    gauges: dict[str, str] = field(default_factory=dict)


def stop(tx: Tx, act: Stop) -> dict[str, Any]:
    """Pause the visit, open a nonconformity, hold the part; readings given are kept."""
    desk = desk_of(tx, act)
    if not act.defect.strip():
        raise Refused("say what is wrong (defect); nothing was booked")
    if act.readings:
        step = _step_in_work(desk.part)
        given = Readings(
            taken=plain(act.readings),
            gauges=act.gauges,
            at_us=act.at_us,
            station=act.station,
        )
        enter(desk, step, given, decides=False)
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


def permission_to_decide(decision: str) -> str:
    """Rework, scrap and withdrawal are the quality engineer's, the rest the delegate's."""
    return decision if decision in ("repair", "concession") else "sentence"


def sentence_allowed(command: Sentence, actor: Actor) -> bool:
    """True when the actor may decide so."""
    return may_act(actor, permission_to_decide(command.decision))


def sentence(tx: Tx, act: Sentence) -> dict[str, Any]:
    """Close the nonconformity and send the part where the decision says."""
    desk = desk_of(tx, act)
    _check_sentence(act, desk.part)
    check_sentence(tx, desk.part)
    check_welds(tx, desk.part, _ended_by(act, desk.part), act.decision)
    names = [f.name for f in fields(facts.Sentenced) if f.name != "lot"]
    given: dict[str, Any] = {name: getattr(act, name) or None for name in names}
    fact = facts.Sentenced(**given)
    desk.trial(fact, station=act.station)
    sign_sentence(tx, desk.part, act.decision)
    return done(desk, act, fact, key=act.key)


def _ended_by(act: Sentence, part: Part) -> int | None:
    """The step whose visit the sentence would end; None while it is in no work."""
    visit = part.open_visit
    return visit.step if visit is not None and act.decision == "concession" else None


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
    check_witness(tx, desk.part, desk.history)
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
    check_authorised(tx, desk.part, step, (act.to,), None)
    if desk.part.paused_since_us is None:
        pause = facts.Paused(step=step, reason=f"handed over to {act.to}")
        desk.record(pause, station=act.station, at_us=act.at_us)
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
