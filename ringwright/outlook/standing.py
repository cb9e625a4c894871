"""Where each part stands at a moment, and its chance to be out some working hours later."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ringwright.outlook.passage import Passages, read_bins
from ringwright.outlook.record import NEVER_US, Flags, Floats, Ints, Record
from ringwright.outlook.stays import Learned, Stay
from ringwright.outlook.worked import Worked

_FRESH: Final = 2.0
"""Visits' worth of belief that a part older than nearly all before it begins its stay anew."""
_NO_CHANCE: Final = 1e-9
"""Whoever stands at a step from which no more than this get out within the time stays in."""
_LIFTS: Final = 9
"""A hold's end is looked at in so many equally likely places."""


@dataclass(frozen=True, slots=True)
class Standing:
    """The parts in the cell at a moment: number, place, in work or waiting, for how long."""

    part: Ints
    step: Ints
    in_work: Flags
    age_h: Floats
    held_h: Floats
    """How long each has been on hold [working h]; -1 when it is not."""


def standing(record: Record, worked: Worked, at_us: int) -> Standing:
    """The parts that had come before an instant and were not gone by then."""
    there = (record.begin_us < at_us) & (record.leave_us >= at_us)
    in_work = record.end_us >= at_us
    step = np.where(in_work, record.step, record.goes_to)
    rows = np.flatnonzero(there & (step >= 0))
    in_work, step, part = in_work[rows], step[rows], record.part[rows]
    since = np.where(in_work, record.begin_us[rows], record.end_us[rows])
    now_h = worked.hours(at_us)
    held = _held_since(record, at_us)[part]
    held_h = np.where(held < at_us, now_h - worked.hours(held), -1.0)
    return Standing(part, step, in_work, np.maximum(now_h - worked.hours(since), 0.0), held_h)


def _held_since(record: Record, at_us: int) -> Ints:
    """Of each part since when it is on hold at an instant; NEVER_US when it is not."""
    since = np.full(len(record.serials), NEVER_US, dtype=np.int64)
    from_us, to_us = record.holds_us[:, 0], record.holds_us[:, 1]
    now = (from_us < at_us) & (to_us >= at_us) & (record.hold_part >= 0)
    np.minimum.at(since, record.hold_part[now], from_us[now])
    return since


def chances(stand: Standing, learned: Learned, way: Passages, left_h: float) -> Floats:
    """(draws, parts): each part's chance to be out within so many working hours."""
    draws, parts = len(way.fresh), len(stand.part)
    if left_h <= 0 or not parts:
        return np.zeros((draws, parts))
    owner, spare_h, share = _spare(stand, learned.hold_h, left_h)
    found = np.zeros((draws, len(owner)))
    for step, stay in enumerate(learned.stays):
        if way.after[:, step].max() < _NO_CHANCE:
            continue
        for in_work in (False, True):
            who = np.flatnonzero(
                (stand.step[owner] == step) & (stand.in_work[owner] == in_work)
            )
            if len(who):
                left = _Left(stand.age_h[owner[who]], spare_h[who], in_work)
                found[:, who] = _from_here(stay, left, way, step)
    whole = np.zeros((draws, parts))
    for draw, one in enumerate(found * share):
        whole[draw] = np.bincount(owner, one, parts)
    return whole


def _spare(stand: Standing, hold_h: Floats, left_h: float) -> tuple[Ints, Floats, Floats]:
    """Each part's number, hours left once it may move, and the share of that: a held part
    stands several times, once for each end its hold may have."""
    free = np.flatnonzero(stand.held_h < 0)
    owner, spare, share = [free], [np.full(len(free), left_h)], [np.ones(len(free))]
    for place in np.flatnonzero(stand.held_h >= 0):
        ends = _ends(hold_h, float(stand.held_h[place]))
        owner.append(np.full(len(ends), place))
        spare.append(left_h - ends)
        share.append(np.full(len(ends), 1.0 / _LIFTS))
    return np.concatenate(owner), np.concatenate(spare), np.concatenate(share)


def _ends(hold_h: Floats, age_h: float) -> Floats:
    """Hours until a hold may end, by those that were lifted; never where none was."""
    longer = hold_h[hold_h > age_h] - age_h
    if not len(longer):
        longer = hold_h
    if not len(longer):
        return np.zeros(0)
    found: Floats = np.quantile(longer, (np.arange(_LIFTS) + 0.5) / _LIFTS)
    return found


@dataclass(frozen=True, slots=True)
class _Left:
    """Parts at one step in one state: their ages there and the hours left to them."""

    age_h: Floats
    spare_h: Floats
    in_work: bool


def _from_here(stay: Stay, left: _Left, way: Passages, step: int) -> Floats:
    """Chances given how long each has stayed: by the visits that stayed longer than that."""
    lasted = stay.work_h if left.in_work else stay.queue_h
    rest = lasted - left.age_h[:, None] + (0.0 if left.in_work else stay.work_h)
    weights, visits = way.weights[step], len(lasted)
    longer = lasted > left.age_h[:, None]
    out = _read(way.after[:, step], (left.spare_h[:, None] - rest) / way.bin_h)
    chance = np.einsum("dv,nv,dnv->dn", weights, longer.astype(float), out)
    # Nearly all have the same hours left, so those who begin anew are worked out but once.
    spare_h, place = np.unique(left.spare_h, return_inverse=True)
    anew_h = stay.work_h if left.in_work else lasted + stay.work_h
    fresh = _read(way.after[:, step], (spare_h[:, None] - anew_h) / way.bin_h)
    afresh = np.einsum("dv,dnv->dn", weights, fresh)[:, place]
    found: Floats = (chance + afresh * _FRESH / visits) / (weights @ longer.T + _FRESH / visits)
    return found


def _read(curves: Floats, left_bins: Floats) -> Floats:
    """(draws, ...) each draw's curve read at so many bins left; nothing where none is left."""
    below, part, any_left = read_bins(left_bins)
    read = curves[:, below] * (1.0 - part) + curves[:, below + 1] * part
    return np.where(any_left, read, 0.0)
