"""The forecast itself: what a week will have given in all, as known at a moment."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from ringwright.outlook.counts import Shape, poisson_binomial, spread_out
from ringwright.outlook.passage import passages
from ringwright.outlook.past import Asked, shape_of
from ringwright.outlook.record import Floats, Record
from ringwright.outlook.standing import Standing, chances, standing
from ringwright.outlook.starts import BLOCKS, expected_starts
from ringwright.outlook.stays import Learned, learn
from ringwright.outlook.worked import Worked, weeks_back

DRAWS: Final = 16
"""Draws of the parameters: what stays and yields may truly be."""
SHIFTS: Final = 40
"""Values of the shared congestion with each; every one an exact count of all parts."""
PAST_WEEKS: Final = 13
_LEAST_US: Final = 14 * 24 * 3_600_000_000
"""History a past week must have before it, to be asked again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Of which week, at which moment; instants are microseconds UTC."""

    start_us: int
    end_us: int
    at_us: int
    zone: str
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Deciding:
    """A part in work, where it stands, and its chance to be out by the end of the week."""

    serial: str
    step: int
    chance: float
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The distribution of the parts still to come; `mass[k]` is the probability of k more."""

    released: int
    mass: Floats
    deciding: tuple[Deciding, ...]
    """Every part in work, the most doubtful first."""
    starts: float
    """Of the mean, what parts not yet created bring."""
    asked: tuple[Asked, ...]
    shape: Shape
    over: bool = False
    """True when the week had ended: nothing is to come."""


Again = Callable[[Question], Asked]
"""What asks a week that is over again."""


def outlook(
    record: Record, worked: Worked, question: Question, again: Again | None = None
) -> Outlook:
    """The forecast of a week's output from what the record held before the moment.

    `again` may answer for past weeks from a memory, where many forecasts ask the same ones.
    """
    released = released_between(record, question.start_us, min(question.at_us, question.end_us))
    if question.at_us >= question.end_us:
        return _over(released)
    rng = np.random.default_rng(question.seed)
    learned = learn(record, worked, question.at_us)
    mine = _ahead(record, worked, question, learned, rng, DRAWS)
    asked = past_weeks(record, question, again or partial(ask, record, worked))
    mass = poisson_binomial(_with_starts(mine))
    mean, variance = moments(mine)
    shape = shape_of(asked, mean, variance)
    return Outlook(
        released=released,
        mass=spread_out(mass, shape, SHIFTS, rng),
        deciding=_deciding(record, mine),
        starts=mine.mean_starts,
        asked=asked,
        shape=shape,
    )


def _over(released: int) -> Outlook:
    return Outlook(
        released=released, mass=np.ones(1), deciding=(), starts=0.0, asked=(),
        shape=Shape(0.0, 0.0, 1.0), over=True,
    )  # fmt: skip


def released_between(record: Record, from_us: int, to_us: int) -> int:
    """Parts released in the half-open span."""
    return int(((record.released_us >= from_us) & (record.released_us < to_us)).sum())


def past_weeks(record: Record, question: Question, again: Again) -> tuple[Asked, ...]:
    """The weeks that were over by then, each asked at the same hour with what was before it."""
    asked: list[Asked] = []
    for back in range(1, PAST_WEEKS + 3):
        then = Question(
            start_us=weeks_back(question.start_us, back, question.zone),
            end_us=weeks_back(question.end_us, back, question.zone),
            at_us=weeks_back(question.at_us, back, question.zone),
            zone=question.zone,
        )
        if then.at_us < record.first_us + _LEAST_US or len(asked) == PAST_WEEKS:
            break
        if then.end_us <= question.at_us:
            asked.append(again(then))
    return tuple(asked)


def ask(record: Record, worked: Worked, then: Question) -> Asked:
    """One week that is over: what was to be expected of its rest, and what came."""
    learned = learn(record, worked, then.at_us)
    mean, variance = moments(_ahead(record, worked, then, learned, None, 1))
    came = released_between(record, max(then.start_us, then.at_us), then.end_us)
    return Asked(mean=mean, variance=variance, came=came)


@dataclass(frozen=True, slots=True)
class Ahead:
    """What may come: chances (draws, parts) of those in work, and of each week's starts."""

    stand: Standing
    chances: Floats
    starts: list[Floats]

    @property
    def mean_starts(self) -> float:
        """What parts not created yet bring to the mean."""
        return float(np.mean([some.sum(axis=1).mean() for some in self.starts] or [0.0]))


def _ahead(
    record: Record,
    worked: Worked,
    question: Question,
    learned: Learned,
    rng: np.random.Generator | None,
    draws: int,
) -> Ahead:
    """Chances to be released within the week: out by its end, less out before its start."""
    now_h = float(worked.hours(question.at_us))
    end_h = float(worked.hours(question.end_us)) - now_h
    early_h = max(float(worked.hours(question.start_us)) - now_h, 0.0)
    way = passages(learned, end_h, rng, draws)
    stand = standing(record, worked, question.at_us)
    found = chances(stand, learned, way, end_h)
    if early_h > 0:
        found = np.maximum(found - chances(stand, learned, way, early_h), 0.0)
    back_us = [weeks_back(question.at_us, n, question.zone) for n in range(BLOCKS + 1)]
    starts = expected_starts(record, worked, way, back_us, (early_h, end_h))
    return Ahead(stand, found, starts)


def moments(ahead: Ahead) -> tuple[float, float]:
    """Mean and variance of the count over draws and weeks of starts, parts independent."""
    sums = ahead.chances.sum(axis=1)[:, None]
    noise = (ahead.chances * (1.0 - ahead.chances)).sum(axis=1)[:, None]
    if ahead.starts:
        sums = sums + np.column_stack([some.sum(axis=1) for some in ahead.starts])
        noise = noise + np.column_stack(
            [(some * (1.0 - some)).sum(axis=1) for some in ahead.starts]
        )
    return float(sums.mean()), float(noise.mean() + sums.var())


def _with_starts(ahead: Ahead) -> Floats:
    """(draws, parts): those in work, and in each draw the starts of one of the past weeks."""
    if not ahead.starts:
        return ahead.chances
    draws = len(ahead.chances)
    most = max(some.shape[1] for some in ahead.starts)
    beside = np.zeros((draws, most))
    for draw in range(draws):
        some = ahead.starts[draw % len(ahead.starts)][draw]
        beside[draw, : len(some)] = some
    return np.concatenate((ahead.chances, beside), axis=1)


def _deciding(record: Record, ahead: Ahead) -> tuple[Deciding, ...]:
    """Parts in work by how much hangs on each: the nearest to an even chance first."""
    chance = ahead.chances.mean(axis=0)
    stand = ahead.stand
    order = np.lexsort((stand.part, -chance * (1.0 - chance)))
    return tuple(
        Deciding(
            serial=record.serials[stand.part[place]],
            step=record.plan[stand.step[place]].number,
            chance=float(chance[place]),
            held=bool(stand.held_h[place] >= 0),
        )
        for place in order
    )
