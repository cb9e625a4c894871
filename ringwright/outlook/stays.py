"""What each step did to the parts that ended there: how long they stayed, where they went."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.core.calendar import HOUR_US
from ringwright.outlook.record import Floats, Ints, Record
from ringwright.outlook.worked import Worked

LEARN_US: Final = 13 * 7 * 24 * HOUR_US
"""How far back stays and yields are learned: a quarter."""
MOST: Final = 300
"""Visits of one step whose stays are kept, spread evenly over the quarter."""
_FEWEST: Final = 3


@dataclass(frozen=True, slots=True)
class Stay:
    """Waits before one step and work at it [working h], one of each for a visit."""

    queue_h: Floats
    work_h: Floats


@dataclass(frozen=True, slots=True)
class Learned:
    """What was known of the steps at a moment.

    `onward` is (steps, steps + 2): how many visits went on to each step, out, or were lost.
    """

    stays: tuple[Stay, ...]
    onward: Floats
    hold_h: Floats
    """Lengths of the holds that were lifted [working h]."""


def learn(record: Record, worked: Worked, at_us: int) -> Learned:
    """What the visits ended before an instant say of each step."""
    first, last = np.searchsorted(record.end_us[record.by_end], (at_us - LEARN_US, at_us))
    rows = record.by_end[first:last]
    rows = rows[record.step[rows] >= 0]
    # By step, and within one by end; small numbers sort fast.
    places = np.argsort(record.step[rows].astype(np.int16), kind="stable")
    counts = np.bincount(record.step[rows], minlength=len(record.plan))
    by_step = np.split(rows[places], np.cumsum(counts)[:-1])
    stays = tuple(_stay(record, worked, some, step) for step, some in enumerate(by_step))
    return Learned(stays, _onward(record, rows), _holds(record, worked, at_us))


def _stay(record: Record, worked: Worked, rows: Ints, step: int) -> Stay:
    if len(rows) > MOST:
        rows = rows[np.linspace(0, len(rows) - 1, MOST).astype(np.int64)]
    # The row before says since when the part was ready; where the record begins, none does.
    rows = rows[(rows > 0) & (record.part[rows] == record.part[rows - 1])]
    begin_h = worked.hours(record.begin_us[rows])
    queue_h = np.maximum(begin_h - worked.hours(record.end_us[rows - 1]), 0.0)
    work_h = np.maximum(worked.hours(record.end_us[rows]) - begin_h, 0.0)
    if len(rows) < _FEWEST:
        # Nothing to learn from yet: the route card's plan stands in as one visit more.
        planned_queue_h, planned_work_h = record.plan[step].stay_h
        queue_h = np.append(queue_h, planned_queue_h)
        work_h = np.append(work_h, planned_work_h)
    return Stay(queue_h, work_h)


def _onward(record: Record, rows: Ints) -> Floats:
    """Counts of where visits went, half a visit of the plan (the next step) added."""
    steps = len(record.plan)
    known = rows[record.onward[rows] >= 0]
    pairs = record.step[known] * (steps + 2) + record.onward[known]
    counts = np.bincount(pairs, minlength=steps * (steps + 2))
    went = counts.reshape(steps, steps + 2).astype(np.float64)
    went[np.arange(steps), np.arange(steps) + 1] += 0.5
    return went


def _holds(record: Record, worked: Worked, at_us: int) -> Floats:
    lifted = record.holds_us[record.holds_us[:, 1] < at_us]
    found: Floats = worked.hours(lifted[:, 1]) - worked.hours(lifted[:, 0])
    return found
