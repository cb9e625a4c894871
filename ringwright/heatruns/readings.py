"""What the recorder wrote during a run: kept, put together, judged against the recipe."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar, Final

from sqlalchemy import Connection

from ringwright.attachments.queries import read_attachments
from ringwright.attachments.rules import TRACE_MEDIA
from ringwright.attachments.service import keep
from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.core.fields import problem_of_text
from ringwright.furnaces import facts
from ringwright.furnaces.card import Columns
from ringwright.furnaces.rules import FINISHED, FOR_REVIEW, HELD, Run, stands
from ringwright.furnaces.service import keep_columns
from ringwright.heat.judge import as_json, judge
from ringwright.heat.packing import pack, unpack
from ringwright.heat.reading import merged
from ringwright.heat.trace import Trace
from ringwright.heatruns.running import RunAct, known_run, recipe_of, record, stop_each, view
from ringwright.ledger.transaction import Tx

NOT_MET_DEFECT: Final = "heat cycle not met"
FAILED_CHANNEL_DEFECT: Final = "thermocouple failed in heat cycle"
JUDGED: Final = frozenset({FINISHED, FOR_REVIEW, HELD})


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepReadings(RunAct):
    """Keep a recorder's readings with the run; the whole of a cycle, or a batch of it."""

    operation: ClassVar[str] = "keep readings"
    trace: Trace = field(compare=False)
    """Times in seconds since 1970, UTC."""
    source: str = ""
    file_digest: str = ""
    columns: Columns | None = None
    """How the file was read, to be remembered for this furnace."""

    def body(self) -> Any:
        """The readings by what they are packed to, and where they came from."""
        return [self.run, pack(self.trace).hex(), self.source]


def keep_readings(tx: Tx, command: KeepReadings) -> dict[str, Any]:
    """Keep them. A run whose cycle has ended is judged with them at once.

    Raises Refused where they are there already, hold no sample, or lie outside the run.
    """
    run, history = known_run(tx, command)
    problem = problem_of_text(command.source)
    if problem is not None:
        raise Refused(f"source {problem}")
    trace = command.trace
    if not trace.size:
        raise Refused("there is no reading in it")
    first_us, last_us = round(trace.at_s[0] * 1e6), round(trace.at_s[-1] * 1e6)
    _check_time(tx, run, first_us, last_us)
    fact = facts.ReadingsKept(
        digest=keep(tx, pack(trace), TRACE_MEDIA),
        first_us=first_us,
        last_us=last_us,
        samples=trace.size,
        source=command.source.strip(),
        file_digest=command.file_digest,
    )
    run, entry = record(tx, run.code, fact, history, key=command.key)
    if command.columns is not None:
        keep_columns(tx, run.furnace, command.columns)
    run = judge_if_ended(tx, run, history)
    return {**view(run, entry), "samples": trace.size}


def _check_time(tx: Tx, run: Run, first_us: int, last_us: int) -> None:
    """Refuse readings of another day: the wrong file is the commonest mistake."""
    begun_us = run.started_us
    until_us = run.ended_us or tx.now_us
    if begun_us is None:
        raise Refused(f"{run.code} is {run.state}; readings come once the cycle has begun")
    if last_us < begun_us or first_us > until_us + AFTERWARDS_US:
        raise Refused(
            f"these readings lie wholly outside {run.code}: they are another run's, or their "
            "clock is wrong"
        )


AFTERWARDS_US: Final = 24 * 3600 * 1_000_000
"""Cooling goes on after the cycle is called finished."""


def trace_of(connection: Connection, site_id: int, run: Run) -> Trace | None:
    """All readings of a run put together; None while there are none."""
    digests = [batch.digest for batch in run.batches]
    content = read_attachments(connection, site_id, digests)
    kept = [unpack(content[digest].data) for digest in digests]
    return merged(kept) if kept else None


def judge_if_ended(tx: Tx, run: Run, history: list[Entry]) -> Run:
    """Judge a run whose cycle has ended, if it has readings; the run as it stands then.

    One that is not met, or in which a thermocouple failed, holds its parts for engineering
    review, each with a nonconformity of its own.
    """
    if run.state not in JUDGED:
        return run
    trace = trace_of(tx.connection, tx.site.id, run)
    if trace is None:
        return run
    judgement = as_json(judge(trace, recipe_of(tx, run)))
    held_before = run.state == HELD
    run, _ = record(tx, run.code, facts.RunJudged(judgement=judgement), history)
    if run.state == HELD and not held_before:
        met = judgement["verdict"] == "met"
        defect = FAILED_CHANNEL_DEFECT if met else NOT_MET_DEFECT
        stop_each(tx, run, why_held(run), defect)
    return run


def why_held(run: Run) -> str:
    """One sentence on what the trace did not show."""
    judgement = run.judgement
    if judgement is None or stands(judgement):
        return ""
    failed = judgement["channels_failed"]
    told = [f"{one['name']}: {one['why']}" for one in judgement["segments"] if not one["met"]]
    if failed:
        told.insert(0, f"failed thermocouples: {', '.join(failed)}")
    return f"{run.code}: {'; '.join(told)}"[:200]
