"""A forecast with 1,000 parts in work: the equivalent of 10,000 runs, beside numpy's runs.

The reference follows every part of every run hour by hour, each leaving its step by chance; it
knows nothing of how long a part has waited. Run: python -m benchmarks.bench_forecast
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from time import perf_counter

import numpy as np

from ringwright.core.calendar import HOUR_US
from ringwright.outlook.answer import DRAWS, SHIFTS, Question, outlook
from ringwright.outlook.record import NEVER_US, Passed, Planned, Record, record_of
from ringwright.outlook.standing import standing
from ringwright.outlook.worked import Worked, worked_of

GOAL_S = 1.0
STEPS, STAY_H, SCRAP, REWORK = 20, 17.0, 0.01, 0.05
WEEK_H, WEEKS, PARTS, RUNS = 168, 27, 1000, 10_000
SAMPLE = 500
"""Runs of the reference that are really made; its time is taken in proportion."""


@dataclass(frozen=True)
class Case:
    """A record of half a year, its working hours and the week that is asked about."""

    record: Record
    worked: Worked
    question: Question


def made(seed: int = 1) -> Case:
    """Parts come evenly so that a thousand are in work; two days of the week have gone."""
    dice, now_h = np.random.default_rng(seed), WEEK_H * WEEKS + 48.0
    every_h = STEPS * STAY_H * (1 + REWORK) * (1 - SCRAP * STEPS / 2) / PARTS
    visits: list[Passed] = []
    released: dict[str, int] = {}
    for number, start_h in enumerate(np.arange(0.0, now_h, every_h)):
        serial = f"P{number:06}"
        out_h = _told(serial, float(start_h), now_h, dice, visits)
        if out_h is not None:
            released[serial] = _us(out_h)
    plan = [Planned(number=n, name="", work_h=1, queue_h=1) for n in range(STEPS)]
    end_us = _us(WEEK_H * (WEEKS + 1))
    return Case(
        record_of(plan, visits, released),
        worked_of(((-(10**15), end_us),)),
        Question(start_us=_us(WEEK_H * WEEKS), end_us=end_us, at_us=_us(now_h), zone="UTC"),
    )


def _told(
    serial: str, start_h: float, now_h: float, dice: np.random.Generator, visits: list[Passed]
) -> float | None:
    """One part's visits up to now; the hour of its release if it came."""
    hour, step = start_h, 0
    visits.append(_visit(serial, None, (hour, hour), 0))
    while step < STEPS:
        begin = hour + dice.gamma(2.0, STAY_H / 4)
        visits[-1] = _visit(serial, visits[-1].step, _span(visits[-1]), step, min(begin, now_h))
        if begin >= now_h:
            visits[-1] = _visit(serial, visits[-1].step, _span(visits[-1]), step)
            return None
        hour = begin + dice.gamma(4.0, STAY_H / 8)
        if hour >= now_h:
            visits.append(_visit(serial, step, (begin, None), None))
            return None
        draw = dice.random()
        gone = draw < SCRAP or (draw >= SCRAP + REWORK and step == STEPS - 1)
        number = step
        step += draw >= SCRAP + REWORK
        visits.append(_visit(serial, number, (begin, hour), None if gone else step))
        if gone:
            visits[-1] = _visit(serial, number, (begin, hour), None, hour)
            return hour if step == STEPS else None
    return None


def _span(one: Passed) -> tuple[float, float]:
    return one.begin_us / HOUR_US, one.end_us / HOUR_US


def _visit(
    serial: str,
    step: int | None,
    span: tuple[float, float | None],
    goes_to: int | None,
    leave_h: float | None = None,
) -> Passed:
    begin, end = span
    return Passed(
        serial=serial,
        step=step,
        begin_us=_us(begin),
        end_us=NEVER_US if end is None else _us(end),
        leave_us=NEVER_US if leave_h is None else _us(leave_h),
        goes_to=goes_to,
    )


def _us(hour: float) -> int:
    return int(hour * HOUR_US)


def reference(step: np.ndarray, hours: int, runs: int) -> np.ndarray:  # type: ignore[type-arg]
    """Releases in each run, every part followed hour by hour."""
    dice = np.random.default_rng(1)
    place = np.broadcast_to(step, (runs, len(step))).astype(np.int8)
    for _ in range(hours):
        ends = (dice.random(place.shape, dtype=np.float32) < 1 / STAY_H) & (place < STEPS)
        draw = dice.random(place.shape, dtype=np.float32)
        place = place + (ends & (draw >= SCRAP + REWORK))
        place[ends & (draw < SCRAP)] = STEPS + 1
    found: np.ndarray = (place == STEPS).sum(axis=1)  # type: ignore[type-arg]
    return found


def main() -> int:
    """Print what was measured; 1 when the goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    case, times = made(), []
    for _ in range(parser.parse_args().rounds):
        began = perf_counter()
        found = outlook(case.record, case.worked, case.question)
        times.append(perf_counter() - began)
    stand = standing(case.record, case.worked, case.question.at_us)
    began = perf_counter()
    simple = reference(stand.step, WEEK_H - 48, SAMPLE)
    beside_s = (perf_counter() - began) * RUNS / SAMPLE
    mean = found.released + found.mass @ np.arange(len(found.mass))
    met = min(times) < GOAL_S
    for line in (
        f"{len(stand.part):,} parts in work, {len(case.record.part):,} visits on record, "
        f"{len(found.asked)} past weeks asked again",
        f"forecast: {min(times):.2f} s (median {sorted(times)[len(times) // 2]:.2f} s), "
        f"{DRAWS * SHIFTS} exact counts of all parts; mean {mean:.1f}",
        f"numpy, {RUNS:,} runs hour by hour: {beside_s:.1f} s, in proportion from {SAMPLE} "
        f"runs; parts in work alone {found.released + simple.mean():.1f}",
        f"ratio {min(times) / beside_s:.4f}; goal {GOAL_S:g} s {'met' if met else 'MISSED'}",
    ):
        print(line)  # noqa: T201
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
