"""What good runs of a recipe read, and what that would have said of past runs.

Good runs are accepted runs of the recipe's very revision, in any furnace; bad ones did not meet
it. Left out are runs without readings, those broken off, and those that met the recipe while a
thermocouple failed: they are neither. What a run read never changes once it is decided, so its
answers are kept by the digests of its readings.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ringwright.core.errors import Missing
from ringwright.furnaces.queries import Which, count_runs, read_recipes, read_runs
from ringwright.furnaces.rules import ABORTED, ACCEPTED, CLOSED, HELD, Run
from ringwright.heat.back_test import BackTest, PastRun, back_test
from ringwright.heat.envelope import FEWEST_RUNS, MOST_RUNS, Envelope, envelope_of
from ringwright.heat.recipe import Recipe
from ringwright.heat.trace import Floats, Trace
from ringwright.heatruns.breaking import MINUTE_S, broken_min, cut
from ringwright.heatruns.readings import trace_of
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read

MOST: Final = 100
"""The newest runs are walked through; older ones tell of another furnace."""
DECIDED: Final = (ACCEPTED, HELD, CLOSED, ABORTED)
SLACK_MIN: Final = 0.01
"""A reading due on the minute may come this late, as `ringwright.heat.minutes` has it."""


@dataclass(frozen=True, kw_only=True)
class GoodRuns:
    """The envelope of a recipe's revision, and its back test."""

    recipe: Recipe
    revisions: tuple[str, ...]
    envelope: Envelope | None
    """None while fewer than ten good runs are known."""
    good: int
    """Good runs known, of which the newest forty make the envelope."""
    test: BackTest
    runs: dict[str, Run]
    """By code: those that were walked through."""
    left_out: int
    """Decided runs that are neither good nor bad."""
    not_walked: int
    """Older runs that were not walked through."""
    zone: str
    drawn: Snapshot


PASTS: Final = Remembered[PastRun | None](most=4 * MOST)
ENVELOPES: Final = Remembered[Envelope | None](most=16)
TESTS: Final = Remembered[BackTest](most=16)


def read_good_runs(read: Read, code: str, revision: str = "") -> GoodRuns:
    """All of it for one revision, the newest where none is named; raises Missing."""
    revisions = read_recipes(read.connection, read.site.id).get(code)
    if not revisions:
        raise Missing(f"there is no recipe {code[:60]}")
    wanted = revision or revisions[-1].revision
    recipe = next((one for one in revisions if one.revision == wanted), None)
    if recipe is None:
        raise Missing(f"{code[:60]} has no revision {wanted[:60]}")
    which = _decided(recipe)
    known = count_runs(read.connection, read.site.id, which)
    walked = read_runs(read.connection, read.site.id, replace(which, most=MOST))
    pasts = [past for past in (_past(read, run, recipe) for run in walked) if past]
    key = (recipe, tuple(map(_known_by, walked)))
    return GoodRuns(
        recipe=recipe,
        revisions=tuple(one.revision for one in revisions),
        envelope=envelope_for(read, recipe),
        good=known.get(ACCEPTED, 0),
        test=TESTS.kept(key, lambda: back_test(pasts)),
        runs={run.code: run for run in walked},
        left_out=len(walked) - len(pasts),
        not_walked=sum(known.values()) - len(walked),
        zone=read.site.zone,
        drawn=snapshot_of(read, to_the_minute=True),
    )


def envelope_for(read: Read, recipe: Recipe) -> Envelope | None:
    """The envelope of a recipe's revision as of now; None with too few good runs."""
    return corridor_of(read, recipe)[1]


def corridor_of(read: Read, recipe: Recipe) -> tuple[Hashable, Envelope | None]:
    """The envelope with what it follows from, by which answers made from it may be kept."""
    newest = _newest_read(read, recipe)[::-1]
    key = (recipe, tuple(map(_known_by, newest)))
    return key, ENVELOPES.kept(key, lambda: _envelope(read, newest, recipe))


def _envelope(read: Read, runs: Sequence[Run], recipe: Recipe) -> Envelope | None:
    pasts = [past for past in (_past(read, run, recipe) for run in runs) if past]
    return envelope_of([one.trace for one in pasts]) if len(pasts) >= FEWEST_RUNS else None


def _newest_read(read: Read, recipe: Recipe) -> list[Run]:
    """The newest accepted runs with readings, as many as an envelope is made of.

    Asked for by the hundred: nearly every accepted run has readings.
    """
    which = replace(_decided(recipe), states=(ACCEPTED,), most=MOST)
    found: list[Run] = []
    while len(found) < MOST_RUNS:
        some = read_runs(read.connection, read.site.id, which)
        found += [run for run in some if run.batches]
        if len(some) < MOST:
            break
        which = replace(which, after=which.after + MOST)
    return found[:MOST_RUNS]


def _decided(recipe: Recipe) -> Which:
    """Decided runs of the very revision whose cycle began."""
    return Which(recipe=recipe.code, revision=recipe.revision, states=DECIDED, started=True)


def _known_by(run: Run) -> Hashable:
    """All that a decided run's answers follow from but its recipe."""
    digests = tuple(batch.digest for batch in run.batches)
    failed = tuple(run.judgement["channels_failed"]) if run.judgement else ()
    return run.code, run.state, run.started_us, run.ended_us, digests, failed


def _past(read: Read, run: Run, recipe: Recipe) -> PastRun | None:
    """A run as the back test wants it, minute by minute; None for one that is left out."""
    if not (_is_good(run) or _is_bad(run)) or not run.batches:
        return None
    key = (recipe, _known_by(run))
    return PASTS.kept(key, lambda: _worked_out(read, run, recipe))


def _is_good(run: Run) -> bool:
    return run.state == ACCEPTED


def _is_bad(run: Run) -> bool:
    judgement = run.judgement
    return judgement is not None and judgement["verdict"] != "met"


def _worked_out(read: Read, run: Run, recipe: Recipe) -> PastRun | None:
    trace = trace_in_cycle(read, run)
    if trace is None or not trace.size:
        return None
    good = _is_good(run)
    return PastRun(
        run=run.code,
        began_us=run.started_us or 0,
        ended_us=run.ended_us or 0,
        trace=minutely(trace),
        met=good,
        limit_min=None if good else broken_min(trace, recipe),
    )


def trace_in_cycle(read: Read, run: Run, failed: Sequence[str] | None = None) -> Trace | None:
    """What was read from the start of a run to its end, or so far; failed channels left out.

    `failed` are the thermocouples that failed; None: those that its judgement names.
    """
    trace = trace_of(read.connection, read.site.id, run)
    if trace is None or run.started_us is None:
        return None
    until_us = run.ended_us
    if failed is None:
        failed = run.judgement["channels_failed"] if run.judgement else ()
    return cut(
        trace,
        run.started_us / 1e6,
        np.inf if until_us is None else until_us / 1e6,
        frozenset(failed),
    )


def minutely(trace: Trace) -> Trace:
    """One reading a minute, the mean of those it had: small enough to be kept.

    Laid out by `ringwright.heat.minutes.minute_by_minute` it is the same as the whole.
    """
    minutes = (trace.at_s - trace.at_s[0]) / MINUTE_S
    rows = np.maximum(np.ceil(minutes - SLACK_MIN), 0).astype(np.intp)
    over = int(np.floor(minutes[-1] + SLACK_MIN)) + 1
    pressure = trace.pressure_kpa
    return Trace(
        at_s=trace.at_s[0] + MINUTE_S * np.arange(over, dtype=np.float64),
        temperatures_c={
            name: _means(rows, values, over) for name, values in trace.temperatures_c.items()
        },
        pressure_kpa=None if pressure is None else _means(rows, pressure, over),
    )


def _means(rows: NDArray[np.intp], values: Floats, over: int) -> Floats:
    read = np.isfinite(values) & (rows < over)
    total = np.bincount(rows[read], weights=values[read], minlength=over)
    count = np.bincount(rows[read], minlength=over)
    found: Floats = np.divide(total, count, out=np.full(over, np.nan), where=count > 0)
    return found
