"""Load a machining plan, log what a spindle does, keep the planner's board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

from sqlalchemy import select

from ringwright.core.calendar import week_of
from ringwright.core.errors import Clash, Missing, Refused
from ringwright.core.fields import as_data, problem_of_code, problem_of_text
from ringwright.db import FOREVER_US
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.machines import facts
from ringwright.machines.card import BOARD, MachiningFile, Placed
from ringwright.machines.queries import read_board, read_last_notes, read_machining
from ringwright.machines.rules import ACTS, check_act
from ringwright.parts.tables import PartNow, Visit
from ringwright.people.allowing import allows
from ringwright.routecards.queries import read_revisions
from ringwright.sites.facts import StationSet
from ringwright.sites.queries import read_stations

MOST_PLACEMENTS: Final = 2000
OPERATION: Final[dict[str, type[facts.SpindleFact]]] = {
    fact.kind: fact
    for fact in (
        facts.SetUpBegun,
        facts.CuttingBegun,
        facts.SpindleStopped,
        facts.SpindleResumed,
        facts.SpindleOff,
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadMachining:
    """Say what machining of a product needs, and how many fixtures there are."""

    operation: ClassVar[str] = "load machining"
    file: MachiningFile
    key: str | None = None

    def body(self) -> Any:
        """The file as JSON values."""
        return as_data(self.file)

    def subject(self) -> str:
        """The product."""
        return self.file.plan.product


def load_machining(tx: Tx, command: LoadMachining) -> dict[str, Any]:
    """Record what is new; raises Missing, or Refused naming each unsound step."""
    plan = command.file.plan
    _check_steps(tx, command.file)
    changed = _set(
        tx, plan.product, facts.MachiningPlanned(needs=[as_data(one) for one in plan.needs])
    )
    for one in command.file.fixtures:
        changed |= _set(tx, one.kind, facts.FixtureSet(count=one.count, name=one.name))
    return {"product": plan.product, "steps": len(plan.needs), "changed": changed}


def _set(tx: Tx, subject: str, fact: facts.MachiningPlanned | facts.FixtureSet) -> bool:
    history = tx.history(fact.subject_kind, subject)
    if history and history[-1].data == fact.payload():
        return False
    tx.append(Draft(fact=fact, subject=subject, at_us=tx.now_us), history)
    return True


def _check_steps(tx: Tx, file: MachiningFile) -> None:
    plan = file.plan
    revisions = read_revisions(tx.connection, tx.site.id, plan.product)
    if not revisions:
        raise Missing(f"there is no product {plan.product}; add its route card first")
    steps = revisions[-1].card.by_number
    known = {one.code for one in read_stations(tx.connection, tx.site.id)}
    kinds = {one.kind for one in file.fixtures}
    problems = []
    for need in plan.needs:
        step = steps.get(need.step)
        if step is None or step.kind != "machining":
            problems.append(f"step {need.step} of {plan.product} is no machining step")
        problems += [
            f"step {need.step}: there is no station {one}"
            for one in need.machines
            if one not in known
        ]
        if (
            need.fixture
            and need.fixture not in kinds
            and not tx.history("fixture", need.fixture)
        ):
            problems.append(
                f"step {need.step}: nobody said how many of {need.fixture} there are; "
                "add a [[fixture]]"
            )
    if problems:
        raise Refused("; ".join(problems))


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSpindle:
    """Log what a machine does from now on."""

    operation: ClassVar[str] = "log spindle"
    station: str
    act: str
    """One of `ringwright.machines.rules.ACTS`."""
    reason: str = ""
    text: str = ""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.station, self.act, self.reason, self.text]

    def subject(self) -> str:
        """The station's code."""
        return self.station


def log_spindle(tx: Tx, command: LogSpindle) -> dict[str, Any]:
    """Record it beside the visit open there; raises Missing, or Refused by the rules."""
    station, text = command.station, command.text.strip()
    if problem_of_code(station) or not tx.history(StationSet.subject_kind, station):
        raise Missing(f"there is no station {station[:60]}")
    problem = problem_of_text(text)
    if problem is not None:
        raise Refused(f"text {problem}")
    log = read_last_notes(tx.connection, tx.site.id, station)
    check_act(command.act, log, command.reason, text)
    if log and log[-1].at_us > tx.now_us:
        raise Refused("the log holds a later line than now; wait a minute and try again")
    serial, step = _on(tx, station)
    stop = {"reason": command.reason, "text": text} if command.act == "stop" else {}
    fact = OPERATION[ACTS[command.act]](serial=serial, step=step, **stop)
    draft = Draft(fact=fact, subject=spindle_of(tx, station), at_us=tx.now_us, station=station)
    entry = tx.append(draft)
    return {"station": station, "entry": entry.seq, "serial": serial, "act": command.act}


def spindle_of(tx: Tx, station: str) -> str:
    """What the record calls this week of a spindle."""
    return f"{station} {week_of(tx.now_us, tx.site.zone, tx.site.week_starts)}"


def _on(tx: Tx, station: str) -> tuple[str, int]:
    """The part whose visit is open at the station, and its step; none: empty and 0."""
    query = (
        select(Visit.serial, Visit.step)
        .where(
            Visit.site_id == tx.site.id,
            Visit.station == station,
            Visit.end_us == FOREVER_US,
            Visit.known_to_us == FOREVER_US,
            Visit.step.is_not(None),
        )
        .order_by(Visit.begin_us.desc())
        .limit(1)
    )
    row = tx.connection.execute(query).one_or_none()
    return (row.serial, row.step) if row else ("", 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepPlan:
    """Keep a whole plan on the board."""

    operation: ClassVar[str] = "keep plan"
    placements: tuple[Placed, ...]
    seen: int
    """The board's entry that it was made from; 0: none."""
    proposed: bool = False
    reason: str = ""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        placed = [as_data(one) for one in self.placements]
        return [placed, self.seen, self.proposed, self.reason]

    def subject(self) -> str:
        """The board."""
        return BOARD


def keep_plan(tx: Tx, command: KeepPlan) -> dict[str, Any]:
    """Record it; raises Clash where the board has changed meanwhile, Refused if unsound."""
    if not command.placements:
        raise Refused("there is nothing to keep: the plan is empty")
    if len(command.placements) > MOST_PLACEMENTS:
        raise Refused(f"a plan holds {MOST_PLACEMENTS} operations at most")
    _check_seen(tx, command.seen)
    _check_placements(tx, command.placements)
    fact = facts.PlanKept(
        placements=[as_data(one) for one in command.placements],
        proposed=command.proposed,
        reason=_reason(command.reason, needed=False),
    )
    entry = tx.append(Draft(fact=fact, subject=BOARD, at_us=tx.now_us))
    return {"board": BOARD, "entry": entry.seq, "placements": len(command.placements)}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePlacement:
    """Put one operation elsewhere on the board, or fix or free it."""

    operation: ClassVar[str] = "change placement"
    placement: Placed
    seen: int
    reason: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [as_data(self.placement), self.seen, self.reason]

    def subject(self) -> str:
        """The board."""
        return BOARD


def change_placement(tx: Tx, command: ChangePlacement) -> dict[str, Any]:
    """Record it; raises Clash where the board has changed meanwhile, Refused if unsound."""
    _check_seen(tx, command.seen)
    _check_placements(tx, (command.placement,))
    fact = facts.PlacementChanged(
        placement=as_data(command.placement), reason=_reason(command.reason, needed=True)
    )
    entry = tx.append(Draft(fact=fact, subject=BOARD, at_us=tx.now_us))
    return {"board": BOARD, "entry": entry.seq, "serial": command.placement.serial}


def _check_seen(tx: Tx, seen: int) -> None:
    kept = read_board(tx.connection, tx.site.id)
    if kept.number != seen:
        raise Clash(
            f"{kept.actor or 'somebody'} has changed the board since you opened it; look at "
            "it as it is now and decide again"
        )


def _check_placements(tx: Tx, placements: tuple[Placed, ...]) -> None:
    plans = read_machining(tx.connection, tx.site.id)
    serials = sorted({one.serial for one in placements})
    products: dict[str, str] = {}
    for start in range(0, len(serials), 500):
        chunk = serials[start : start + 500]
        query = select(PartNow.serial, PartNow.product).where(
            PartNow.site_id == tx.site.id, PartNow.serial.in_(chunk)
        )
        products |= {row.serial: row.product for row in tx.connection.execute(query)}
    for one in placements:
        product = products.get(one.serial)
        if product is None:
            raise Missing(f"there is no part {one.serial[:60]}")
        plan = plans.get(product)
        need = plan.by_step.get(one.step) if plan else None
        if need is None:
            raise Refused(f"the machining plan of {product} has no step {one.step}")
        if one.machine not in need.machines:
            may = ", ".join(need.machines)
            raise Refused(f"{one.machine[:40]} may not do step {one.step}; choose one of {may}")
        if not 0 < one.start_us < FOREVER_US:
            raise Refused("the start is no moment of this world")


def _reason(text: str, *, needed: bool) -> str:
    problem = problem_of_text(text)
    if problem is not None:
        raise Refused(f"reason {problem}")
    if needed and not text.strip():
        raise Refused("say in a few words why it is changed (reason)")
    return text.strip()


HANDLINGS: dict[type, Handling] = {
    LoadMachining: Handling(load_machining, allows("plan machines")),
    LogSpindle: Handling(log_spindle, allows("visit")),
    KeepPlan: Handling(keep_plan, allows("plan machines")),
    ChangePlacement: Handling(change_placement, allows("plan machines")),
}
