"""The envelope of good runs: what it is made of, and what leaves it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ringwright.core.errors import Refused
from ringwright.heat.envelope import (
    ABOVE,
    BELOW,
    FEWEST_RUNS,
    LASTING_MIN,
    MOST_RUNS,
    Envelope,
    envelope_of,
    envelope_of_minutes,
    first_departure,
)
from ringwright.heat.minutes import COLDEST, HOTTEST, PRESSURE, SPREAD, minute_by_minute
from ringwright.heat.trace import Trace
from tests.heat.make_runs import a_run, runs


@pytest.fixture(scope="module")
def envelope() -> Envelope:
    return envelope_of(runs(20, seed=1))


def usual(envelope: Envelope) -> Trace:
    """A run that reads the median of every minute."""
    at = np.arange(float(envelope.minutes)) * 60
    cold, hot = envelope.bands[COLDEST].median, envelope.bands[HOTTEST].median
    return Trace(
        at_s=at,
        temperatures_c={"tc1_c": cold.copy(), "tc2_c": hot.copy()},
        pressure_kpa=envelope.bands[PRESSURE].median.copy(),
    )


def test_the_usual_run_never_departs(envelope: Envelope) -> None:
    assert first_departure(usual(envelope), envelope) is None


def test_below_ten_runs_there_is_no_envelope_and_that_is_said() -> None:
    with pytest.raises(Refused, match="wants 10 met runs of this recipe; there are 9"):
        envelope_of(runs(FEWEST_RUNS - 1, seed=1))


@pytest.mark.parametrize(
    ("count", "share"), [(10, 1 / 11), (18, 1 / 19), (19, 1 / 20), (20, 1 / 21), (40, 2 / 41)]
)
def test_the_false_alarms_to_expect_are_told(count: int, share: float) -> None:
    """Among n strays and the next one, those beyond the chosen place of n + 1."""
    assert envelope_of(runs(count, seed=3, minutes=60)).false_alarms == pytest.approx(share)


def test_only_the_newest_forty_count() -> None:
    old, new = runs(30, seed=4, minutes=60), runs(MOST_RUNS, seed=5, minutes=60)

    found = envelope_of([*old, *new])
    laid_out = envelope_of_minutes([minute_by_minute(one) for one in [*old, *new]])

    assert found.runs == laid_out.runs == MOST_RUNS
    assert found.slack == laid_out.slack == envelope_of(new).slack


def test_a_band_holds_what_is_usual_and_never_less(envelope: Envelope) -> None:
    for band in envelope.bands.values():
        assert (band.low <= band.usual_low).all()
        assert (band.usual_low <= band.median).all()
        assert (band.median <= band.usual_high).all()
        assert (band.usual_high <= band.high).all()


@pytest.mark.parametrize(("shift", "direction"), [(-1.0, BELOW), (1.0, ABOVE)])
def test_a_run_that_strays_is_flagged_once_it_has_lasted(
    envelope: Envelope, shift: float, direction: str
) -> None:
    run, band = usual(envelope), envelope.bands[PRESSURE]
    assert run.pressure_kpa is not None
    reach = float((band.high - band.median)[150:].max())
    run.pressure_kpa[150:] += shift * (reach + 1.0)

    found = first_departure(run, envelope)

    assert found is not None
    assert (found.feature, found.direction) == (PRESSURE, direction)
    assert (found.since_min, found.minute) == (150, 150 + LASTING_MIN - 1)
    assert found.value == run.pressure_kpa[found.minute]
    assert (found.low, found.high) == (band.low[found.minute], band.high[found.minute])


def test_a_spike_of_two_minutes_is_no_departure(envelope: Envelope) -> None:
    run = usual(envelope)
    run.temperatures_c["tc2_c"][150:152] += 100.0
    assert first_departure(run, envelope) is None

    run.temperatures_c["tc2_c"][152] += 100.0
    found = first_departure(run, envelope)

    assert found is not None
    assert found.feature in (HOTTEST, SPREAD)


def test_three_minutes_outside_by_turns_are_no_departure(envelope: Envelope) -> None:
    run = usual(envelope)
    run.temperatures_c["tc2_c"][150:160:2] += 100.0

    assert first_departure(run, envelope) is None


def test_a_cold_thermocouple_is_named_by_what_is_furthest_out(envelope: Envelope) -> None:
    run = usual(envelope)
    run.temperatures_c["tc1_c"][150:] -= 100.0

    found = first_departure(run, envelope)

    assert found is not None
    assert (found.feature, found.direction) in ((COLDEST, BELOW), (SPREAD, ABOVE))


def test_a_run_in_progress_is_flagged_as_soon_as_the_finished_one_would_have_been(
    envelope: Envelope,
) -> None:
    """Nothing later than the minute itself takes part."""
    whole = a_run(np.random.default_rng(9), drift_from=100, drift_c_per_min=-0.5)
    late = first_departure(whole, envelope)
    assert late is not None

    def until(minute: int) -> Trace:
        return Trace(
            at_s=whole.at_s[: minute + 1],
            temperatures_c={k: v[: minute + 1] for k, v in whole.temperatures_c.items()},
            pressure_kpa=None
            if whole.pressure_kpa is None
            else whole.pressure_kpa[: minute + 1],
        )

    assert first_departure(until(late.minute), envelope) == late
    assert first_departure(until(late.minute - 1), envelope) is None


def test_minutes_that_most_runs_did_not_reach_are_not_compared() -> None:
    past = [*runs(18, seed=6, minutes=100), *runs(2, seed=7, minutes=200)]
    found = envelope_of(past)

    assert np.isnan(found.bands[COLDEST].median[101:]).all()
    assert np.isfinite(found.bands[COLDEST].median[:100]).all()
    cut = envelope_of_minutes([minute_by_minute(one)[:100] for one in past])
    assert found.slack == cut.slack
    np.testing.assert_array_equal(found.bands[SPREAD].high[:100], cut.bands[SPREAD].high)
    hot = runs(1, seed=8, minutes=200)[0]
    for values in hot.temperatures_c.values():
        values[110:] += 500.0
    assert first_departure(hot, found) is None


def test_runs_without_pressure_are_compared_by_their_thermocouples(envelope: Envelope) -> None:
    bare = [replace(one, pressure_kpa=None) for one in runs(12, seed=10, minutes=90)]

    found = envelope_of(bare)

    assert np.isnan(found.bands[PRESSURE].high).all()
    assert first_departure(a_run(np.random.default_rng(11), minutes=90), found) is None
    assert first_departure(replace(usual(envelope), pressure_kpa=None), envelope) is None


def test_runs_that_never_differ_leave_room_for_what_a_recorder_resolves() -> None:
    one = a_run(np.random.default_rng(12), minutes=90)
    found = envelope_of([one] * 12)

    nearly = replace(one, temperatures_c={k: v + 1.4 for k, v in one.temperatures_c.items()})
    off = replace(one, temperatures_c={k: v + 1.6 for k, v in one.temperatures_c.items()})

    assert first_departure(nearly, found) is None
    assert first_departure(off, found) is not None


def test_a_drift_is_flagged_before_it_breaks_a_limit(envelope: Envelope) -> None:
    """A zone that falls behind by 0.2 degC a minute is 12 degC cold, a limit, after an hour."""
    early = []
    for seed in range(30):
        run = a_run(np.random.default_rng(seed), drift_from=120, drift_c_per_min=-0.2)
        found = first_departure(run, envelope)
        assert found is not None
        early.append(180 - found.minute)

    assert np.median(early) > 8
    assert np.mean(np.array(early) > 0) > 0.9
