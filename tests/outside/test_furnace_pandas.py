"""Furnace runs by the hundred, judged here and worked out again in pandas from the same file.

pandas: W. McKinney, "Data structures for statistical computing in Python", SciPy 2010.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from ringwright.heat.judge import Judged, Judgement, judge
from ringwright.heat.reading import read_trace
from ringwright.heat.toml import parse_recipe
from tests.outside import furnace_reference as reference

RECIPE = """
max_dip_minutes = {dip}
[[segment]]
name = "heat"
kind = "ramp"
target_c = 900
[[segment]]
name = "high"
kind = "soak"
target_c = 900
tolerance_c = 10
min_minutes = {least}
[[segment]]
name = "down"
kind = "ramp"
target_c = 600
[[segment]]
name = "low"
kind = "soak"
target_c = 600
tolerance_c = 10
min_minutes = {least}
[[segment]]
name = "cool"
kind = "ramp"
target_c = 200
tolerance_c = 30
"""
HIGH, LOW, COOL = (890.0, 910.0), (590.0, 610.0), (170.0, 230.0)
SEEDS = range(40)
OSLO = [timezone(timedelta(hours=2)), timezone(timedelta(hours=1)), UTC]


@dataclass
class Drawn:
    """A run drawn from a seed: what its file holds, and what its recipe asks."""

    text: str
    asked: dict[str, float] = field(default_factory=dict)


def drawn(seed: int, *, even: bool = False) -> Drawn:
    chance = np.random.default_rng(seed)
    step_s = float(chance.choice([10.0, 20.0, 30.0, 60.0]))
    holds = chance.uniform(40, 120, 2)
    corners = np.cumsum(
        [0, chance.uniform(80, 160), holds[0], chance.uniform(40, 90), holds[1], 90]
    )
    at_s = np.arange(0.0, corners[-1] * 60, step_s)
    line = np.interp(at_s / 60, corners, [20, 900, 900, 600, 600, 180])
    reads = _reads(chance, line)
    _dip(chance, reads, at_s, corners)
    keep = np.ones(at_s.size, dtype=bool)
    if not even and chance.random() < 0.5:
        for _ in range(int(chance.integers(1, 4))):
            begin = int(chance.integers(0, at_s.size - 50))
            keep[begin : begin + int(chance.integers(1, 30))] = False
    asked = {
        "dip": float(chance.choice([2, 5, 8])),
        "least": float(chance.choice([30, 60, 90])),
    }
    return Drawn(text=_file(chance, at_s[keep], reads[:, keep]), asked=asked)


def _reads(chance: np.random.Generator, line: np.ndarray) -> np.ndarray:
    count = int(chance.integers(2, 7))
    beside = chance.uniform(-5, 5, (count, 1))
    return np.round(line + beside + chance.normal(0, 0.6, (count, line.size)), 1)


def _dip(
    chance: np.random.Generator, reads: np.ndarray, at_s: np.ndarray, corners: np.ndarray
) -> None:
    for begin, end in ((corners[1], corners[2]), (corners[3], corners[4])):
        for _ in range(int(chance.integers(0, 4))):
            first = chance.uniform(begin + 3, end - 12)
            some = (at_s >= first * 60) & (at_s < (first + chance.uniform(0.2, 9)) * 60)
            deep = chance.choice([-1.0, -1.0, 1.0]) * chance.uniform(8, 60)
            reads[int(chance.integers(0, len(reads))), some] += np.round(deep, 1)


def _file(chance: np.random.Generator, at_s: np.ndarray, reads: np.ndarray) -> str:
    if chance.random() < 0.5:
        stamps = [f"{second:g}" for second in at_s]
    else:
        begin = datetime(2026, 10, 24, 22, 15, tzinfo=UTC)
        stamps = [
            (begin + timedelta(seconds=second))
            .astimezone(OSLO[int(chance.integers(3))])
            .isoformat()
            for second in at_s
        ]
    rows = [
        ",".join([stamp, *(f"{read:.1f}" for read in row)])
        for stamp, row in zip(stamps, reads.T, strict=True)
    ]
    mixed = (
        chance.permutation(rows + list(chance.choice(rows, 20)))
        if chance.random() < 0.5
        else rows
    )
    return "\n".join([f"at,{','.join(f'tc{n + 1}_c' for n in range(len(reads)))}", *mixed])


def judged(run: Drawn) -> Judgement:
    return judge(read_trace(run.text, "run.csv"), parse_recipe(RECIPE.format(**run.asked)))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_soaks_are_those_of_pandas(seed: int) -> None:
    run = drawn(seed)
    rows = reference.rows_of(run.text)
    high = reference.soak_of(rows, HIGH, LOW)
    low = reference.soak_of(rows, LOW, COOL, since=high.end)

    found = judged(run)

    # Above the band counts on heating only; the lower soak is reached by cooling.
    hot = reference.above(rows, HIGH, LOW)
    _alike(found.segments[1], high, run, hot=hot)
    _alike(found.segments[3], low, run, hot=False)


def _alike(ours: Judged, theirs: reference.Soak, run: Drawn, *, hot: bool) -> None:
    assert str(ours.start) == theirs.start
    assert ours.minutes == pytest.approx(theirs.minutes, abs=1e-6)
    assert ours.out_of_band_minutes == pytest.approx(theirs.out_of_band_minutes, abs=1e-6)
    assert (ours.min_c, ours.max_c) == (theirs.min_c, theirs.max_c)
    assert ours.spread_c == pytest.approx(theirs.spread_c)
    long_enough = theirs.minutes >= run.asked["least"] - 1e-6
    dips = theirs.longest_dip_min > run.asked["dip"] + 1e-6
    assert ours.met is (long_enough and not dips and not hot)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_rates_are_those_of_pandas(seed: int) -> None:
    run = drawn(seed, even=True)
    rows = reference.rows_of(run.text)

    for one in judged(run).segments:
        if one.start_s is not None and one.end_s is not None and one.end_s - one.start_s > 600:
            theirs = reference.steepest(rows, one.start_s, one.end_s)
            assert one.rate_c_per_min == pytest.approx(theirs, rel=1e-6)


def test_the_runs_drawn_are_of_every_kind() -> None:
    found = [judged(drawn(seed)) for seed in SEEDS]

    verdicts = {one.verdict for one in found}
    whys = " ".join(segment.why for one in found for segment in one.segments)
    assert verdicts == {"met", "not met"}
    for kind in ("out of band", "above", "min in band", "gap"):
        assert kind in whys
