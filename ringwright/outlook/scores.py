"""How good forecasts were: coverage, Brier score, and the two naive forecasts beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.outlook.record import Floats


@dataclass(frozen=True, slots=True)
class Score:
    """Over n forecasts: share of intervals that held what came, and the mean Brier scores.

    The Brier score is the mean square of probability less what came (1 or 0), the smaller the
    better; G. W. Brier, Monthly Weather Review 78 (1950) 1-3. None where there was no target.
    """

    n: int
    covered: int
    brier: float | None
    brier_weeks: float | None
    """Of the last four weeks' mean."""
    brier_pace: float | None
    """Of the pace so far, kept to the end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One forecast against what came; probabilities are those of reaching the target."""

    low: int
    high: int
    came: int
    reached: bool | None
    chance: float | None
    chance_weeks: float | None
    chance_pace: float | None


def score_of(judged: Sequence[Judged]) -> Score:
    """The scores of forecasts whose weeks are over."""
    return Score(
        n=len(judged),
        covered=sum(one.low <= one.came <= one.high for one in judged),
        brier=_brier([(one.chance, one.reached) for one in judged]),
        brier_weeks=_brier([(one.chance_weeks, one.reached) for one in judged]),
        brier_pace=_brier([(one.chance_pace, one.reached) for one in judged]),
    )


def _brier(pairs: Sequence[tuple[float | None, bool | None]]) -> float | None:
    known = [(p, came) for p, came in pairs if p is not None and came is not None]
    if not known:
        return None
    return sum((p - came) ** 2 for p, came in known) / len(known)


def by_weeks(last: Sequence[int], released: int, target: float) -> float | None:
    """Chance of a target if the week goes as the last four did: Poisson about their mean.

    Never less than what is out already; None without a week before.
    """
    if not last:
        return None
    if released >= target:
        return 1.0
    return _poisson_at_least(sum(last[:4]) / len(last[:4]), target)


def by_pace(released: int, gone: float, target: float, last: Sequence[int]) -> float | None:
    """Chance of a target if what is out goes on at its pace; `gone` is the share of the week.

    What is still to come is Poisson about out times rest over gone; before the week has begun
    there is no pace, and the last four weeks stand in.
    """
    if gone <= 0:
        return by_weeks(last, released, target)
    return _poisson_at_least(released * (1 - gone) / gone, target - released)


def _poisson_at_least(mean: float, least: float) -> float:
    """Probability of a Poisson count of at least so many."""
    first = math.ceil(least)
    if first <= 0:
        return 1.0
    if mean <= 0:
        return 0.0
    counts = np.arange(first)
    logs = counts * math.log(mean) - mean - _log_factorials(first)
    return float(max(1.0 - np.exp(logs).sum(), 0.0))


def _log_factorials(count: int) -> Floats:
    steps = np.log(np.maximum(np.arange(count), 1))
    found: Floats = np.cumsum(steps)
    return found


def transform(mass: Floats, came: int, share: float) -> float:
    """Where what came lies in its distribution: even between 0 and 1 if that was right.

    The probability integral transform, randomised by a share between 0 and 1 of the mass at
    what came, since counts are whole; C. Czado, T. Gneiting, L. Held, Biometrics 65 (2009)
    1254-1261.
    """
    below = float(mass[: min(came, len(mass))].sum())
    at = float(mass[came]) if came < len(mass) else 0.0
    return below + share * at
