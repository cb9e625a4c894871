"""A furnace trace read and judged, beside pandas at it: `python -m benchmarks.bench_furnace`.

Twelve hours at one sample a second with twelve thermocouples and a pressure. Beside ours, in
the same run and of the same file, pandas (`tests/outside/furnace_reference.py`) reads it and
works out the soak and the steepest rate of the three segments; it asks of no pressure, failed
thermocouple, ceiling or implausible reading. Exit 1 if reading and judging pass two seconds.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta

import numpy as np

from ringwright.heat.judge import judge
from ringwright.heat.reading import read_trace
from ringwright.heat.toml import parse_recipe
from tests.outside import furnace_reference as reference

LIMIT_S = 2.0
SAMPLES = 43_200
CHANNELS = 12
RECIPE = """
ceiling_c = 950
[[segment]]
name = "heat"
kind = "ramp"
target_c = 920
max_rate_c_per_min = 12
[[segment]]
name = "hold"
kind = "soak"
target_c = 920
tolerance_c = 10
min_minutes = 420
pressure_kpa = 350
pressure_tolerance_kpa = 5
[[segment]]
name = "cool"
kind = "ramp"
target_c = 500
tolerance_c = 20
max_rate_c_per_min = 6
"""


def file_of(seed: int) -> str:
    """The recorder's file."""
    chance = np.random.default_rng(seed)
    line = np.interp(
        np.arange(SAMPLES) / 60.0, [0, 90, 525, 630, 720], [20, 920, 920, 500, 480]
    )
    beside = np.linspace(-4.0, 4.0, CHANNELS)[:, None]
    reads = line + beside + chance.normal(0.0, 0.5, (CHANNELS, SAMPLES))
    pressure = 350.0 + chance.normal(0.0, 0.5, SAMPLES)
    begin = datetime.fromisoformat("2026-10-24T20:00:00+02:00")
    rows = [f"at,{','.join(f'tc{n + 1}_c' for n in range(CHANNELS))},pressure_kpa"]
    for place, row in enumerate(np.vstack([reads, pressure]).T):
        stamp = (begin + timedelta(seconds=place)).isoformat()
        rows.append(",".join([stamp, *(f"{read:.1f}" for read in row)]))
    return "\n".join(rows)


def ours(text: str) -> float:
    """Read and judge; the soak's minutes."""
    return judge(read_trace(text, "run.csv"), parse_recipe(RECIPE)).segments[1].minutes


def theirs(text: str) -> float:
    """The same soak and three rates by pandas; the soak's minutes."""
    rows = reference.rows_of(text)
    soak = reference.soak_of(rows, (910.0, 930.0), (480.0, 520.0))
    begin_s, end_s = float(rows["s"][soak.begin]), float(rows["s"][soak.end])
    first_s, last_s = float(rows["s"].iloc[0]), float(rows["s"].iloc[-1])
    for span in ((first_s, begin_s), (begin_s, end_s), (end_s, last_s)):
        reference.steepest(rows, *span)
    return soak.minutes


def quickest(work: Callable[[str], float], text: str, rounds: int) -> tuple[float, float]:
    """(seconds of the quickest round, what it answered)."""
    best, answer = float("inf"), 0.0
    for _ in range(rounds):
        begun = time.perf_counter()
        answer = work(text)
        best = min(best, time.perf_counter() - begun)
    return best, answer


def main() -> int:
    """Print the two times and their ratio; 1 if ours passes its limit."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    text = file_of(1)
    took_s, minutes = quickest(ours, text, rounds)
    pandas_s, same = quickest(theirs, text, rounds)
    if abs(minutes - same) > 1e-6:
        sys.stdout.write(f"the two differ: {minutes} and {same} minutes\n")
        return 1
    met = took_s <= LIMIT_S
    sys.stdout.write(
        f"{SAMPLES:,} samples, {CHANNELS} thermocouples, {len(text) / 1e6:.1f} MB: "
        f"read and judged in {took_s:.2f} s {'met' if met else 'MISSED'}; "
        f"pandas {pandas_s:.2f} s, {took_s / pandas_s:.2f} of it\n"
    )
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
