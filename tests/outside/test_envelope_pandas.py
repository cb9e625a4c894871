"""The envelope of good runs against pandas, a slow reckoning, and runs drawn at random.

- Percentiles: pandas `quantile` with linear interpolation, position (n - 1) q.
- The slack: leave one run out, reckon the envelope of the others with NumPy, note its stray.
- False alarms: V. Vovk, A. Gammerman & G. Shafer, Algorithmic Learning in a Random World
  (2005): of exchangeable runs the next one ranks anywhere among the others with the same
  chance. Drawn with run-to-run offsets, normal and with long tails, wandering within a run, and
  late starts.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from ringwright.heat.envelope import (
    LASTING_MIN,
    LEAST_SIGMA,
    SMOOTHED_MIN,
    departure_of_minutes,
    envelope_of,
    envelope_of_minutes,
)
from ringwright.heat.minutes import FEATURES, minute_by_minute
from ringwright.heat.trace import Floats
from tests.heat.make_runs import Kind, runs


@pytest.mark.parametrize("count", [10, 13, 40])
def test_percentiles_are_those_of_pandas(count: int) -> None:
    past = runs(count, seed=21, minutes=120)
    past[3].temperatures_c["tc1_c"][40:60] = np.nan
    laid_out = [minute_by_minute(one) for one in past]

    found = envelope_of(past)

    for place, name in enumerate(FEATURES):
        table = pd.DataFrame([one[:, place] for one in laid_out])
        band = found.bands[name]
        for share, ours in (
            (0.5, band.median),
            (0.05, band.usual_low),
            (0.95, band.usual_high),
        ):
            np.testing.assert_allclose(ours, table.quantile(share), rtol=1e-12, atol=1e-9)


def slack_by_hand(laid_out: Floats) -> list[float]:
    """Stray of each run from the envelope of the others, as its docstring says, run by run."""
    strays, reach = [], SMOOTHED_MIN // 2
    for run in range(len(laid_out)):
        others = np.delete(laid_out, run, axis=0)
        lower, middle, upper = np.quantile(others, [0.15, 0.5, 0.85], axis=0)
        wide = (upper - lower) / (2 * norm.ppf(0.85))
        around = [
            wide[max(0, m - reach) : m + reach + 1].mean(axis=0) for m in range(len(wide))
        ]
        off = (laid_out[run] - middle) / np.maximum(np.array(around), LEAST_SIGMA)
        windows = np.lib.stride_tricks.sliding_window_view(off, LASTING_MIN, axis=0)
        strays.append(float(max(windows.min(axis=-1).max(), (-windows).min(axis=-1).max())))
    return strays


@pytest.mark.parametrize(("count", "place"), [(10, 10), (25, 25), (39, 38)])
def test_the_slack_is_the_stray_at_its_place(count: int, place: int) -> None:
    laid_out = [minute_by_minute(one) for one in runs(count, seed=22, minutes=150)]

    found = envelope_of_minutes(laid_out)

    strays = sorted(slack_by_hand(np.stack(laid_out)))
    assert found.slack == pytest.approx(strays[place - 1], rel=1e-6)


KINDS = {
    "as they come": Kind(),
    "long tails": Kind(tail=4),
    "quick to wander": Kind(between_runs_c=0.2, wander_min=8),
    "slow to wander, never late": Kind(wander_min=200, late_min=0),
}


@pytest.mark.parametrize("count", [10, 20, 40])
@pytest.mark.parametrize("kind", KINDS)
def test_good_runs_are_flagged_no_oftener_than_was_said(kind: str, count: int) -> None:
    """Forty shops with an envelope each; the shares of the shops tell their own error."""
    shares = []
    for shop in range(40):
        seed = 1000 * count + shop
        drawn = [minute_by_minute(one) for one in runs(count + 12, seed, KINDS[kind])]
        envelope = envelope_of_minutes(drawn[:count])
        out = [departure_of_minutes(one, envelope) is not None for one in drawn[count:]]
        shares.append(np.mean(out))

    mean, error = np.mean(shares), np.std(shares, ddof=1) / np.sqrt(len(shares))
    assert mean - 2.6 * error <= envelope.false_alarms
    # A rule that never flags anything would pass: it must use some of what it may.
    assert mean > 0.25 * envelope.false_alarms


def test_a_fixed_slack_of_four_would_cry_wolf() -> None:
    """Why the slack is learned: with ten past runs nearly four in ten good ones go beyond."""
    beyond = [
        stray > 4.0
        for shop in range(20)
        for stray in slack_by_hand(
            np.stack([minute_by_minute(one) for one in runs(10, 900 + shop)])
        )
    ]

    assert 0.25 < np.mean(beyond) < 0.5
