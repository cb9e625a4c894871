"""An hour more at each of 26 station groups of a busy shop, beside a model of it in SimPy.

300 parts stand in a line of 26 groups with two days of the week to go. The reference is a
plain SimPy model of the same line, each run made whole; its time is taken for as many runs as
the answer stands on, in the same process. Times are of the processor: machines are shared.
Run: python -m benchmarks.bench_extra_hour
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Generator
from random import Random
from time import process_time
from typing import Any

import simpy

from ringwright.queueing.extra import Gains, gains
from ringwright.queueing.shop import RELEASED, Clock, Group, Shop, Stage, Standing

GOAL_S = 2.0
GROUPS, PARTS, END_H = 26, 300, 48.0
SAMPLE = 12
"""Runs of the reference that are really made; its time is taken in proportion."""


def made() -> Shop:
    """A line of 26 groups; work between a quarter and an hour and a half, some rework."""
    dice = Random(1)
    clock = Clock(((0.0, END_H),))
    servers = [dice.choice((1, 1, 2, 3)) for _ in range(GROUPS)]
    works = [
        tuple(sorted(s * dice.uniform(0.2, 0.5) for _ in range(300))) for s in servers
    ]  # fmt: skip
    return Shop(
        groups=tuple(
            Group(code=f"G{k}", servers=servers[k], clock=clock, round_the_clock=True)
            for k in range(GROUPS)
        ),
        stages=tuple(
            Stage(
                product="P", number=k, group=k, work_h=works[k],
                onward=((k + 1 if k + 1 < GROUPS else RELEASED, 900.0), (k, 40.0)),
            )
            for k in range(GROUPS)
        ),
        parts=tuple(
            Standing(stage=dice.randrange(GROUPS), since_h=-dice.random()) for _ in range(PARTS)
        ),
        end_h=END_H,
    )  # fmt: skip


def reference(shop: Shop, seed: int) -> int:
    """Releases of one run in SimPy: a process for each part, a resource for each group."""
    env, dice, out = simpy.Environment(), Random(seed), [0]
    stations = [simpy.Resource(env, one.servers) for one in shop.groups]

    def part(stage: int) -> Generator[Any, Any, None]:
        while stage >= 0:
            here = shop.stages[stage]
            with stations[here.group].request() as turn:
                yield turn
                yield env.timeout(dice.choice(here.work_h))
            goes, counts = zip(*here.onward, strict=True)
            stage = dice.choices(goes, counts)[0]
        out[0] += 1

    for one in sorted(shop.parts, key=lambda one: one.since_h):
        env.process(part(one.stage))
    env.run(until=shop.end_h)
    return out[0]


def runs_of(found: Gains) -> int:
    """Whole runs that the answer stands on: each without, each with an hour, and shifts."""
    shifts = sum(one.runs for one in found.groups if one.shift)
    return found.runs + sum(one.runs for one in found.groups) + shifts


def main() -> int:
    """Print what was measured; 1 when the goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=3)
    shop, times = made(), []
    for _ in range(parser.parse_args().rounds):
        began = process_time()
        found = gains(shop)
        times.append(process_time() - began)
    began = process_time()
    out = [reference(shop, seed) for seed in range(SAMPLE)]
    beside_s = (process_time() - began) * runs_of(found) / SAMPLE
    met = min(times) < GOAL_S
    for line in (
        f"{PARTS} parts, {GROUPS} groups, {found.runs} pairs; released without "
        f"{found.without.mean:.1f}, by SimPy {sum(out) / SAMPLE:.1f}",
        f"answer: {min(times):.2f} s of processor; SimPy, {runs_of(found)} whole runs in "
        f"proportion from {SAMPLE}: {beside_s:.2f} s",
        f"ratio {min(times) / beside_s:.3f}; goal {GOAL_S:g} s {'met' if met else 'MISSED'}",
    ):
        print(line)  # noqa: T201
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
