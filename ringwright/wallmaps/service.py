"""Set a wall plan, keep a set of readings, withdraw one."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

from ringwright.attachments.service import keep
from ringwright.bench.authorised import check_authorised
from ringwright.bench.service import Desk, open_desk
from ringwright.core.errors import Clash, Missing, Refused
from ringwright.core.fields import problem_of_text
from ringwright.gauges.judging import GaugeDesk
from ringwright.ledger.service import Handling, read_within
from ringwright.ledger.transaction import Draft, Tx
from ringwright.parts.state import Part
from ringwright.people.allowing import allows
from ringwright.routecards.card import Characteristic
from ringwright.routecards.queries import read_revisions
from ringwright.sites.queries import when_at
from ringwright.wallmaps.facts import WallPlanSet, WallRead, WallReadWithdrawn
from ringwright.wallmaps.queries import plan_in_force, read_plans
from ringwright.wallmaps.rules import check_counts, check_new, fold
from ringwright.walls.packing import pack
from ringwright.walls.plan import METHODS, WallPlan
from ringwright.walls.reading import WallReading
from ringwright.walls.toml import plan_data

MEDIA = "text/csv"
PLAN, WALL = WallPlanSet.subject_kind, WallRead.subject_kind


@dataclass(frozen=True, slots=True, kw_only=True)
class SetWallPlan:
    """Add a wall plan, or a revision of one."""

    operation: ClassVar[str] = "set wall plan"
    plan: WallPlan
    reason: str = ""
    key: str | None

    def body(self) -> Any:
        """The plan as JSON values."""
        return {"plan": plan_data(self.plan), "reason": self.reason}

    def subject(self) -> str:
        """The product's code."""
        return self.plan.product


def set_wall_plan(tx: Tx, command: SetWallPlan) -> dict[str, Any]:
    """Record the revision; the same again changes nothing, other content raises Clash.

    Raises Refused for a product or step that the site has not.
    """
    plan = command.plan
    problem = problem_of_text(command.reason)
    if problem is not None:
        raise Refused(f"reason {problem}")
    _check_steps(tx, plan)
    data, history = plan_data(plan), tx.history(PLAN, plan.product)
    answer = {"product": plan.product, "revision": plan.revision, "added": False}
    for entry in history:
        if entry.data["plan"]["plan"]["revision"] == plan.revision:
            if entry.data["plan"] == data:
                return answer
            raise Clash(
                f"wall plan {plan.product} revision {plan.revision} is there already with "
                "other content; give the changed plan a new revision"
            )
    fact = WallPlanSet(plan=data, reason=command.reason.strip() or None)
    tx.append(Draft(fact=fact, subject=plan.product, at_us=tx.now_us), history)
    return {**answer, "added": True}


def _check_steps(tx: Tx, plan: WallPlan) -> None:
    revisions = read_revisions(tx.connection, tx.site.id, plan.product)
    if not revisions:
        raise Refused(f"there is no product {plan.product}; load its route card first")
    known = revisions[-1].card.by_number
    strange = [step for step in (*plan.steps, *plan.cuts) if step not in known]
    if strange:
        raise Refused(f"the route of {plan.product} has no step {strange[0]}")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepWall:
    """Keep a set of readings of a case's wall, within its open visit."""

    operation: ClassVar[str] = "keep wall readings"
    serial: str
    readings: tuple[WallReading, ...] = field(repr=False)
    method: str
    gauge: str = ""
    source: str = ""
    file_digest: str = ""
    step: int | None = None
    """The step of the open visit as it was seen; None: whichever it is."""
    station: str = ""
    key: str | None

    def body(self) -> Any:
        """The readings by what they are packed to, and how they were taken."""
        told = [self.serial, pack(self.readings).decode(), self.method, self.gauge]
        return [*told, self.source, self.step]

    def subject(self) -> str:
        """The case."""
        return self.serial


def keep_wall(tx: Tx, command: KeepWall) -> dict[str, Any]:
    """Keep them; judged by the plan in force that day.

    Raises Missing for an unknown case, Refused without an open visit at a step that the plan
    reads at, without a gauge that may decide, or for readings that are there already.
    """
    if not command.readings:
        raise Refused("there is no reading in it")
    problem = problem_of_text(command.source)
    if problem is not None:
        raise Refused(f"source {problem}")
    desk = open_desk(tx, command.serial)
    part, plan, step = _where(tx, desk, command)
    check_authorised(tx, part, step, (tx.actor.code,), None)
    u_mm = uncertainty(GaugeDesk(tx), plan, step, (command.method, command.gauge), tx.now_us)
    history = tx.history(WALL, part.serial)
    digest = keep(tx, pack(command.readings), MEDIA)
    check_new(fold(part.serial, history), digest, step)
    fact = WallRead(
        product=plan.product,
        revision=plan.revision,
        step=step,
        method=command.method,
        digest=digest,
        readings=len(command.readings),
        gauge=command.gauge or None,
        u_mm=u_mm,
        source=command.source.strip(),
        file_digest=command.file_digest,
    )
    draft = Draft(
        fact=fact, subject=part.serial, at_us=desk.instant(None), key=command.key,
        station=command.station,
    )  # fmt: skip
    entry = tx.append(draft, history)
    return {
        "serial": part.serial, "step": step, "entry": entry.seq,
        "readings": len(command.readings), "revision": plan.revision,
    }  # fmt: skip


def _where(tx: Tx, desk: Desk, command: KeepWall) -> tuple[Part, WallPlan, int]:
    """The case, its plan, and the step of its open visit."""
    part = desk.part
    if part.card is None:
        raise Missing(f"there is no part {command.serial}")
    plans = read_plans(read_within(tx), part.card.product).get(part.card.product, [])
    plan = plan_in_force(plans, when_at(tx.now_us, tx.site.zone).day)
    if plan is None:
        raise Refused(f"{part.card.product} has no wall plan in force; quality sets it first")
    step = check_visit(part, plan)
    if command.step is not None and command.step != step:
        raise Clash(
            f"{part.serial} is at step {step} now, not at {command.step}; look again",
            code="acted-first",
        )
    return part, plan, step


def check_visit(part: Part, plan: WallPlan) -> int:
    """The step of the open visit; raises Refused without one at a step of the plan."""
    visit = part.open_visit
    told = ", ".join(map(str, plan.steps))
    if visit is None or visit.step is None:
        raise Refused(
            f"{part.serial} has no open visit; it is {part.place}. The wall is read at step "
            f"{told}: begin it at the Bench first"
        )
    if visit.step not in plan.steps:
        raise Refused(
            f"{part.serial} is at step {visit.step}; its plan reads the wall at step {told}"
        )
    return visit.step


def uncertainty(
    desk: GaugeDesk, plan: WallPlan, step: int, read_by: tuple[str, str], at_us: int
) -> float | None:
    """What one reading is worth, judged as every reading is; raises Refused.

    `read_by`: the method, and the gauge's code or nothing.
    """
    method, gauge = read_by
    if method not in METHODS:
        raise Refused(f"unknown method {method[:40]!r}; one of: {', '.join(METHODS)}")
    limits = plan.hardest_limits(step)
    asked = Characteristic(
        code="wall",
        nominal=limits.nominal,
        lower=limits.lower,
        upper=limits.upper,
        unit="mm",
        decimals=3,
        gauge_kind=METHODS[method],
    )
    desk.check_named(asked, gauge or None)
    return desk.uncertainty(asked, gauge or None, at_us)


@dataclass(frozen=True, slots=True, kw_only=True)
class WithdrawWall:
    """A set of readings does not count any more; it stays on record."""

    operation: ClassVar[str] = "withdraw wall readings"
    serial: str
    entry: int
    reason: str
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.serial, self.entry, self.reason]

    def subject(self) -> str:
        """The case."""
        return self.serial


def withdraw_wall(tx: Tx, command: WithdrawWall) -> dict[str, Any]:
    """Record it; raises Refused without a reason, or for no such set."""
    problem = problem_of_text(command.reason)
    if problem is not None or not command.reason.strip():
        raise Refused(f"reason {problem}" if problem else "say why it does not count (reason)")
    history = tx.history(WALL, command.serial)
    sets = {one.number: one for one in fold(command.serial, history)}
    check_counts(sets.get(command.entry), command.serial, command.entry)
    fact = WallReadWithdrawn(entry=command.entry, reason=command.reason.strip())
    draft = Draft(
        fact=fact,
        subject=command.serial,
        at_us=max(tx.now_us, history[-1].at_us),
        key=command.key,
    )
    entry = tx.append(draft, history)
    return {"serial": command.serial, "entry": entry.seq, "withdrawn": command.entry}


HANDLINGS: dict[type, Handling] = {
    SetWallPlan: Handling(set_wall_plan, allows("recipes")),
    KeepWall: Handling(keep_wall, allows("measure")),
    WithdrawWall: Handling(withdraw_wall, allows("correct")),
}
