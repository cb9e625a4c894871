"""The end of a run: accepted by somebody who did not run it, or closed after its review."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.bench.many import listed, open_desks, record_each
from ringwright.bench.reading import check_when
from ringwright.bench.rules import needed
from ringwright.core.errors import Refused
from ringwright.furnaces import facts
from ringwright.furnaces.rules import check_reviewer
from ringwright.heatruns.readings import KeepReadings, judge_if_ended, keep_readings
from ringwright.heatruns.running import (
    Abort,
    Finish,
    Load,
    OpenRun,
    RunAct,
    Start,
    Unload,
    abort,
    known_run,
    load,
    open_run,
    record,
    start,
    unload,
    view,
)
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Tx
from ringwright.parts import facts as parts
from ringwright.people.allowing import allows


def finish(tx: Tx, command: Finish) -> dict[str, Any]:
    """End the cycle; with readings there, what the trace says is said at once."""
    check_when(tx.now_us, command.at_us)
    run, history = known_run(tx, command)
    run, entry = record(
        tx, run.code, facts.RunFinished(), history, key=command.key, at_us=command.at_us
    )
    return view(judge_if_ended(tx, run, history), entry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Accept(RunAct):
    """The trace met its recipe, and gas, thermocouples and coupons were looked at too."""

    operation: ClassVar[str] = "accept run"
    gas: str
    """What was found of the gas."""
    thermocouples: str
    """What was found of where the thermocouples lay."""
    coupons: str
    """What was found of the witness coupons."""


def accept(tx: Tx, command: Accept) -> dict[str, Any]:
    """Accept it and end the step of every part still in it with a pass, all in one or nothing.

    A part that was stopped in the run and sentenced has gone its own way. Raises Refused for a
    reviewer who ran it, something not looked at, or a part in it that is held.
    """
    run, history = known_run(tx, command)
    check_reviewer(run, tx.actor.code)
    fact = facts.RunAccepted(
        gas=needed(command.gas, "say what was found of the gas"),
        thermocouples=needed(
            command.thermocouples, "say whether the thermocouples lay where they should"
        ),
        coupons=needed(command.coupons, "say what was found of the witness coupons"),
    )
    desks = open_desks(tx, run.parts)
    there = {one: desk for one, desk in desks.items() if desk.part.run == run.code}
    held = [one for one, desk in there.items() if desk.part.open_hold is not None]
    if held:
        raise Refused(f"{listed(held)} is held; decide that first")
    run, entry = record(tx, run.code, fact, history, key=command.key)
    ended: dict[str, parts.PartFact] = {
        serial: parts.Ended(step=run.steps[serial], outcome="pass", run=run.code)
        for serial in there
    }
    record_each(tx, desks, ended, station=run.furnace)
    return view(run, entry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Close(RunAct):
    """Every part of a held or aborted run has its sentence; engineering review is over."""

    operation: ClassVar[str] = "close run"
    reason: str


def close(tx: Tx, command: Close) -> dict[str, Any]:
    """Close it; raises Refused, naming them, while parts still wait for their sentence."""
    reason = needed(command.reason, "say what the review found (reason)")
    run, history = known_run(tx, command)
    desks = open_desks(tx, run.parts)
    waiting = [one for one, desk in desks.items() if desk.part.run == run.code]
    if waiting:
        raise Refused(f"{listed(waiting)} still waits for its sentence; decide that first")
    run, entry = record(tx, run.code, facts.RunClosed(reason=reason), history, key=command.key)
    return view(run, entry)


HANDLINGS: dict[type, Handling] = {
    OpenRun: Handling(open_run, allows("run furnace")),
    Load: Handling(load, allows("run furnace")),
    Unload: Handling(unload, allows("run furnace")),
    Start: Handling(start, allows("run furnace")),
    Abort: Handling(abort, allows("run furnace")),
    Finish: Handling(finish, allows("run furnace")),
    KeepReadings: Handling(keep_readings, allows("run furnace")),
    Accept: Handling(accept, allows("accept run")),
    Close: Handling(close, allows("close run")),
}
