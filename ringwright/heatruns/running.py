"""A furnace run from its load to its end: open, load, start, abort, finish.

The parts of a load begin their visit together when the cycle starts, and end it together when
the run is accepted. Every part's own rules are asked; one that may not go in keeps all out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.bench.authorised import check_authorised
from ringwright.bench.many import listed, open_desks, record_each
from ringwright.bench.rules import make_booking, needed
from ringwright.bench.service import Desk, check_floor, check_open
from ringwright.core.errors import Clash, Missing, Refused
from ringwright.core.facts import Entry
from ringwright.furnaces import facts
from ringwright.furnaces.queries import (
    Which,
    next_run_code,
    read_recipe,
    read_recipes,
    read_runs,
    runs_of,
)
from ringwright.furnaces.rules import (
    OPEN,
    RUNNING,
    FurnacePast,
    Run,
    fold,
)
from ringwright.furnaces.service import known_furnace
from ringwright.heat.recipe import Recipe
from ringwright.heatruns.ready import why_not_ready
from ringwright.ledger.transaction import Draft, Tx
from ringwright.parts import facts as parts
from ringwright.parts.queries import resolve_serial
from ringwright.sites.queries import read_shut

RUN = facts.RunFact.subject_kind
ABORTED_DEFECT = "heat cycle aborted"


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRun:
    """Make up a run in a furnace, by the newest revision of a recipe."""

    operation: ClassVar[str] = "open run"
    furnace: str
    recipe: str
    key: str | None

    def body(self) -> Any:
        """Furnace and recipe."""
        return [self.furnace, self.recipe]

    def subject(self) -> str:
        """The furnace's code."""
        return self.furnace


@dataclass(frozen=True, slots=True, kw_only=True)
class RunAct:
    """What every act on a run carries."""

    operation: ClassVar[str] = ""
    run: str
    key: str | None
    seen: int | None = None
    """The run's last entry when the screen was drawn; None: whatever it is."""

    def body(self) -> Any:
        """All fields but the key and what was seen."""
        names = [name for name in self.__dataclass_fields__ if name not in ("key", "seen")]
        return {name: getattr(self, name) for name in names}

    def subject(self) -> str:
        """The run."""
        return self.run


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(RunAct):
    """Lay a part into a position."""

    operation: ClassVar[str] = "load part"
    serial: str
    position: str = ""
    """Empty: the first that is free."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unload(RunAct):
    """Take a part out again before the cycle begins."""

    operation: ClassVar[str] = "unload part"
    serial: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Start(RunAct):
    """Begin the cycle."""

    operation: ClassVar[str] = "start run"


@dataclass(frozen=True, slots=True, kw_only=True)
class Abort(RunAct):
    """Break the cycle off, or give the run up before it began."""

    operation: ClassVar[str] = "abort run"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish(RunAct):
    """The cycle ran to its end."""

    operation: ClassVar[str] = "finish run"
    at_us: int | None = None
    """When it ended; None: now."""


def open_run(tx: Tx, command: OpenRun) -> dict[str, Any]:
    """Open it; raises Missing for furnace or recipe, Clash while another run is in it."""
    past = known_furnace(tx, command.furnace)
    revisions = read_recipes(tx.connection, tx.site.id).get(command.recipe)
    if not revisions:
        raise Missing(f"there is no recipe {command.recipe}")
    recipe = revisions[-1]
    which = Which(furnace=command.furnace, states=OPEN, most=1)
    taken = read_runs(tx.connection, tx.site.id, which)
    if taken:
        raise Clash(
            f"{command.furnace} is taken by {taken[0].code}, which is {taken[0].state}",
            code="furnace-taken",
        )
    _check_class(past, recipe)
    code = next_run_code(tx.connection, tx.site.id, command.furnace)
    fact = facts.RunOpened(
        furnace=command.furnace, recipe=recipe.code, revision=recipe.revision
    )
    entry = tx.append(Draft(fact=fact, subject=code, at_us=tx.now_us, key=command.key), [])
    return view(fold(code, [entry]), entry)


def _check_class(past: FurnacePast, recipe: Recipe) -> None:
    """Refuse a furnace less uniform than the recipe asks (AMS 2750 classes)."""
    wanted, has = recipe.furnace_class, past.furnace.furnace_class
    if wanted is None:
        return
    if has is None or has > wanted:
        told = "has no class" if has is None else f"is of class {has}"
        raise Refused(
            f"{recipe.code} asks a furnace of class {wanted}; {past.furnace.code} {told}"
        )


def load(tx: Tx, command: Load) -> dict[str, Any]:
    """Lay it in; raises Refused, saying why the part may not go into this run."""
    run, history = known_run(tx, command)
    past = known_furnace(tx, run.furnace)
    serial = resolve_serial(tx.connection, tx.site, command.serial)
    desk = open_desks(tx, [serial])[serial]
    if desk.part.card is None:
        raise Missing(f"there is no part {command.serial}; check the serial and scan again")
    step = _step_of(tx, desk, run)
    _check_part(tx, desk, run, step)
    position = command.position or _first_free(past, run)
    if position not in past.furnace.positions:
        raise Refused(f"{run.furnace} has no position {position[:40]!r}")
    fact = facts.PartLoaded(serial=serial, step=step, position=position)
    run, entry = record(tx, run.code, fact, history, key=command.key)
    return {**view(run, entry), "serial": serial, "position": position}


def _step_of(tx: Tx, desk: Desk, run: Run) -> int:
    """The step the run would do on the part; raises Refused where it does not await it."""
    recipe = recipe_of(tx, run)
    part = desk.part
    due = part.step
    if any(use.product == part.route.product and use.step == due for use in recipe.uses):
        assert due is not None
        return due
    does = ", ".join(f"step {one.step} of {one.product}" for one in recipe.uses)
    stands = f"waits for step {due}" if part.awaited else f"is {part.place}"
    raise Refused(f"{part.serial} {stands}; {recipe.code} does {does}")


def _check_part(tx: Tx, desk: Desk, run: Run, step: int) -> None:
    """All that would keep the part from beginning its step here and now."""
    part = desk.part
    other = runs_of(tx.connection, tx.site.id, [part.serial], undecided=True).get(part.serial)
    if other and other[-1][0] != run.code:
        raise Refused(f"{part.serial} lies in {other[-1][0]}; decide that run first")
    if part.open_nonconformities:
        raise Refused(f"{part.serial} has an open nonconformity; it may not be loaded")
    check_floor(desk, parts.Begun(step=step, run=run.code), tx.actor.code, None)
    fields = {"act": "begin", "serial": part.serial, "step": step, "station": run.furnace}
    check_open(tx, part, make_booking(fields, None))
    check_authorised(tx, part, step, (tx.actor.code,), None)


def _first_free(past: FurnacePast, run: Run) -> str:
    free = [one for one in past.furnace.positions if one not in run.load.values()]
    if not free:
        raise Refused(f"{run.furnace} is full: {len(run.load)} positions are taken")
    return free[0]


def unload(tx: Tx, command: Unload) -> dict[str, Any]:
    """Take it out; raises Refused where it does not lie there or the cycle has begun."""
    run, history = known_run(tx, command)
    serial = resolve_serial(tx.connection, tx.site, command.serial)
    run, entry = record(
        tx, run.code, facts.PartUnloaded(serial=serial), history, key=command.key
    )
    return {**view(run, entry), "serial": serial}


def start(tx: Tx, command: Start) -> dict[str, Any]:
    """Begin the cycle and every part's visit with it, or nothing.

    Raises Refused naming what is overdue, worn or out of calibration, which part ran out of
    its window meanwhile, or whatever else keeps one out.
    """
    run, history = known_run(tx, command)
    past = known_furnace(tx, run.furnace)
    reasons = why_not_ready(tx, past)
    if reasons:
        raise Refused(f"{run.furnace} {'; '.join(reasons)}", code="furnace-not-ready")
    _check_recipe_open(tx, run)
    desks = open_desks(tx, run.parts)
    refused = []
    for serial, desk in desks.items():
        try:
            if desk.part.step != run.steps[serial]:
                raise Refused(f"{serial} is {desk.part.place} at step {desk.part.step} now")
            _check_part(tx, desk, run, run.steps[serial])
        except Refused as why:
            refused.append(why.message)
    if refused:
        raise Refused(f"{listed(refused, '; ')}. Take it out of the load", code="load")
    begun: dict[str, parts.PartFact] = {
        serial: parts.Begun(step=run.steps[serial], run=run.code) for serial in run.parts
    }
    record_each(tx, desks, begun, station=run.furnace)
    run, entry = record(tx, run.code, facts.RunStarted(), history, key=command.key)
    return view(run, entry)


def _check_recipe_open(tx: Tx, run: Run) -> None:
    for row in read_shut(tx.connection, tx.site.id, [f"recipe:{run.recipe}"]):
        raise Refused(
            f"recipe {row.code} is shut: {row.reason}. {row.opener} may open it", code="shut"
        )


def abort(tx: Tx, command: Abort) -> dict[str, Any]:
    """Break it off: every part that was in the cycle is stopped for engineering review."""
    reason = needed(command.reason, "say why it is aborted (reason)")
    run, history = known_run(tx, command)
    begun = run.state == RUNNING
    run, entry = record(tx, run.code, facts.RunAborted(reason=reason), history, key=command.key)
    if begun:
        stop_each(tx, run, f"{run.code} was aborted: {reason}", ABORTED_DEFECT)
    return view(run, entry)


def stop_each(tx: Tx, run: Run, reason: str, defect: str) -> None:
    """Open a nonconformity on every part of the load that is still in the run's visit."""
    desks = open_desks(tx, run.parts)
    stopped: dict[str, parts.PartFact] = {
        serial: parts.Stopped(defect=defect, step=run.steps[serial], reason=reason)
        for serial, desk in desks.items()
        if desk.part.run == run.code
    }
    record_each(tx, desks, stopped, station=run.furnace)


def known_run(tx: Tx, command: Any) -> tuple[Run, list[Entry]]:
    """A run and its facts; raises Missing, or Clash when somebody acted on it first."""
    history = tx.history(RUN, command.run)
    if not history:
        raise Missing(f"there is no furnace run {command.run[:60]}")
    run = fold(command.run, history)
    if command.seen is not None and run.last_seq != command.seen:
        raise Clash(
            f"somebody acted on {run.code} first; it is {run.state} now. "
            "Look again and decide anew",
            code="acted-first",
        )
    return run, history


def recipe_of(tx: Tx, run: Run) -> Recipe:
    """The revision the run was opened with."""
    recipe = read_recipe(tx.connection, tx.site.id, run.recipe, run.revision)
    if recipe is None:
        raise Missing(f"there is no recipe {run.recipe} of revision {run.revision}")
    return recipe


def record(
    tx: Tx,
    code: str,
    fact: facts.RunFact,
    history: list[Entry],
    *,
    key: str | None = None,
    at_us: int | None = None,
) -> tuple[Run, Entry]:
    """Append a fact to the run if its history obeys, and the run after it; raises Refused."""
    at = tx.now_us if at_us is None else at_us
    trial = Entry(2**53, fact.kind, at, tx.now_us, tx.actor.code, "", None, fact.payload())
    fold(code, [*history, trial])
    entry = tx.append(Draft(fact=fact, subject=code, at_us=at, key=key), history)
    history.append(entry)
    return fold(code, history), entry


def view(run: Run, entry: Entry) -> dict[str, Any]:
    """A run as its commands answer it."""
    return {
        "run": run.code,
        "furnace": run.furnace,
        "recipe": run.recipe,
        "revision": run.revision,
        "state": run.state,
        "load": [{"serial": one, "position": place} for one, place in run.load.items()],
        "entry": entry.seq,
    }
