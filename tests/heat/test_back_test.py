"""The envelope tried on the past, each run with what was known when it began."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binomtest

from ringwright.heat.back_test import (
    EARLY,
    FALSE_ALARM,
    LATE,
    MISSED,
    QUIET,
    TOO_FEW,
    PastRun,
    back_test,
)
from ringwright.heat.envelope import FEWEST_RUNS, envelope_of, first_departure
from tests.heat.make_runs import Kind, a_run, runs

HOUR_US = 3_600_000_000
STEADY = Kind(between_runs_c=0.5, wander_c=0.3, late_min=1.0)


def past(count: int, seed: int = 1, kind: Kind = STEADY) -> list[PastRun]:
    """Good runs, one after the other."""
    return [
        PastRun(
            run=f"FR-{n:03d}",
            began_us=8 * n * HOUR_US,
            ended_us=(8 * n + 5) * HOUR_US,
            trace=trace,
            met=True,
        )
        for n, trace in enumerate(runs(count, seed, kind))
    ]


def bad(after: int, limit_min: float | None, drift_c_per_min: float) -> PastRun:
    """A run whose third thermocouple falls behind from minute 120 on."""
    random = np.random.default_rng(50 + after)
    return PastRun(
        run=f"FR-{after:03d}-bad",
        began_us=(8 * after + 6) * HOUR_US,
        ended_us=(8 * after + 7) * HOUR_US,
        trace=a_run(random, STEADY, drift_from=120, drift_c_per_min=drift_c_per_min),
        met=False,
        limit_min=limit_min,
    )


def test_a_bad_run_is_flagged_before_its_limit_breaks() -> None:
    found = back_test([*past(25), bad(20, 180.0, -0.2)]).runs

    told = next(one for one in found if not one.met)
    assert told.outcome == EARLY
    assert told.departure is not None
    assert told.early_min == 180.0 - told.departure.minute > 10
    assert told.past_runs == 21


@pytest.mark.parametrize(
    ("limit_min", "drift", "outcome"),
    [(121.0, -0.2, LATE), (280.0, 0.0, MISSED), (None, -0.2, EARLY), (None, 0.0, MISSED)],
)
def test_what_became_of_a_bad_run(limit_min: float | None, drift: float, outcome: str) -> None:
    told = next(
        one for one in back_test([*past(25), bad(20, limit_min, drift)]).runs if not one.met
    )

    assert told.outcome == outcome
    assert (told.early_min is None) == (limit_min is None or outcome == MISSED)


def test_the_first_runs_have_nothing_to_be_compared_with() -> None:
    found = back_test(past(14)).runs

    assert [one.outcome for one in found[:FEWEST_RUNS]] == [TOO_FEW] * FEWEST_RUNS
    assert all(one.outcome in (QUIET, FALSE_ALARM) for one in found[FEWEST_RUNS:])
    assert [one.past_runs for one in found] == [0] * 10 + [10, 11, 12, 13]


def test_a_run_sees_only_met_runs_that_were_over_when_it_began() -> None:
    """Each verdict is the one that the envelope of that day gave."""
    history = [*past(16), bad(9, 180.0, -0.2), bad(12, 180.0, -0.2)]
    overlapping = replace(history[14], ended_us=history[15].began_us + 1)
    history[14] = overlapping

    by_run = {one.run: one for one in back_test(history[::-1]).runs}

    for run in history:
        known = [one for one in history if one.met and one.ended_us <= run.began_us]
        if len(known) >= FEWEST_RUNS:
            known.sort(key=lambda one: one.ended_us)
            envelope = envelope_of([one.trace for one in known])
            assert by_run[run.run].departure == first_departure(run.trace, envelope)
        else:
            assert by_run[run.run].outcome == TOO_FEW
    assert by_run["FR-015"].past_runs == 14


def test_later_runs_change_nothing_of_what_was_said_before() -> None:
    history = past(20)

    assert back_test(history).runs[:15] == back_test(history[:15]).runs


def test_the_sums_and_their_intervals() -> None:
    """Wilson's interval as SciPy reckons it."""
    strays = [bad(n, 180.0, -0.2) for n in (15, 17, 19)] + [bad(18, 200.0, 0.0)]

    found = back_test([*past(60, kind=Kind(tail=3)), *strays])

    assert found.good == 50
    assert found.bad == 4
    assert found.count(TOO_FEW) == 10
    alarms = found.count(FALSE_ALARM)
    assert found.false_alarm_ratio == alarms / 50
    known = binomtest(alarms, 50).proportion_ci(method="wilson")
    assert found.false_alarm_interval == pytest.approx((known.low, known.high), abs=1e-9)
    caught = found.count(EARLY)
    known = binomtest(caught, 4).proportion_ci(method="wilson")
    assert found.caught_interval == pytest.approx((known.low, known.high), abs=1e-9)
    assert found.caught_ratio == caught / 4
    said = [1 / (n + 1) for n in range(10, 39)] + [2 / 40] + [2 / 41] * 20
    assert found.expected_false_alarm_ratio == pytest.approx(np.mean(said), abs=2e-3)


def test_without_runs_no_figure_is_made_up() -> None:
    found = back_test(past(5))

    assert (found.good, found.bad) == (0, 0)
    assert found.false_alarm_ratio is None
    assert found.false_alarm_interval is None
    assert found.caught_ratio is None
    assert found.caught_interval is None
    assert found.median_early_min is None
    assert found.expected_false_alarm_ratio is None


def test_the_minutes_won_are_told_in_the_middle() -> None:
    found = back_test([*past(25), *(bad(n, 180.0, -0.2) for n in (18, 20, 22))])

    won = sorted(one.early_min or 0.0 for one in found.runs if not one.met)
    assert found.count(EARLY) == 3
    assert found.median_early_min == won[1]
