"""A long furnace trace read, thinned and drawn: `python -m benchmarks.bench_trace`.

Twelve hours of twelve thermocouples and the pressure, each second, packed as the record keeps
them. Beside ours, in the same run and on the same bytes, the usual way with a table library:
pandas groups each column into the same pixels of the same boxes, takes its first, least,
greatest and last, and joins them to lines; it looks for no gap, failed channel or broken limit.
Exit 1 if ours passes its limit, or if a peak or a dip of some pixel is lost. `--rounds N` sets
how often; the least of them counts, since a neighbour only ever adds.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from ringwright.heat.judge import judge
from ringwright.heat.packing import pack, unpack
from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment
from ringwright.heat.trace import Trace
from ringwright.heatruns.breaks import laid_of
from ringwright.heatruns.drawing import BUCKETS, LENS_BUCKETS, draw_run
from ringwright.heatruns.picture import Pictured, TraceDrawing

LIMIT_S = 0.3
HOURS, CHANNELS = 12, 12
RECIPE = Recipe(
    ceiling_c=950.0,
    segments=(
        Segment(name="heat", kind=RAMP, target_c=920.0, tolerance_c=8.0),
        Segment(name="hold", kind=SOAK, target_c=920.0, tolerance_c=8.0, min_minutes=240.0),
        Segment(name="cool", kind=RAMP, target_c=700.0, tolerance_c=15.0),
        Segment(name="age", kind=SOAK, target_c=700.0, tolerance_c=15.0, min_minutes=150.0),
    ),
)


def say(text: str) -> None:
    """One line."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def made() -> Trace:
    """Up, held, down, held and cooled, to a tenth of a degree, with spikes of a second."""
    chance = np.random.default_rng(1)
    minute = np.arange(HOURS * 3600) / 60.0
    level = np.interp(minute, [0, 120, 420, 480, 660, 720], [20, 920, 920, 700, 700, 60])
    read = {
        f"tc{n + 1}_c": np.round(level + chance.normal(0.0, 0.6, minute.size) + 0.3 * n - 2, 1)
        for n in range(CHANNELS)
    }
    for values in read.values():
        places = chance.integers(0, minute.size, 20)
        values[places] += chance.choice([-40.0, 40.0], 20)
    kpa = np.interp(minute, [0, 100, 115, 425, 440, 720], [0, 0, 600, 600, 0, 0])
    return Trace(
        at_s=1.76e9 + 60.0 * minute,
        temperatures_c=read,
        pressure_kpa=np.round(kpa + chance.normal(0.0, 1.0, minute.size), 1),
    )


def extremes(trace: Trace, begin: int, end: int, buckets: int) -> pd.DataFrame:
    """Four figures of every channel in every pixel of a stretch of samples."""
    at_s = trace.at_s[begin:end]
    pixel = ((at_s - at_s[0]) / (at_s[-1] - at_s[0]) * buckets).astype(int)
    read = {name: values[begin:end] for name, values in trace.temperatures_c.items()}
    if trace.pressure_kpa is not None and buckets == BUCKETS:
        read["pressure_kpa"] = trace.pressure_kpa[begin:end]
    grouped = pd.DataFrame(read).groupby(np.minimum(pixel, buckets - 1))
    return grouped.agg(["first", "min", "max", "last"])


def usual(packed: bytes) -> list[str]:
    """The reference: the same boxes, four corners a pixel."""
    trace = unpack(packed)
    boxes = [(0, trace.size, BUCKETS)]
    boxes += [(7_200, 25_200, LENS_BUCKETS), (28_800, 39_600, LENS_BUCKETS)]
    lines = []
    for begin, end, buckets in boxes:
        table = extremes(trace, begin, end, buckets)
        figures = (2 * (1_000.0 - table.to_numpy()) * 0.3).round().astype(int)
        for four in np.split(figures, figures.shape[1] // 4, axis=1):
            corners = [f"{x} {y}" for x, ys in enumerate(four.tolist()) for y in ys]
            lines.append("M" + "L".join(corners))
    return lines


def least(work: Callable[[], Any], rounds: int) -> tuple[float, float, Any]:
    """(seconds, seconds of processor, what it gave) of the quickest round."""
    found: list[tuple[float, float, Any]] = []
    for _ in range(rounds):
        began, began_cpu = time.perf_counter(), time.process_time()
        gave = work()
        found.append((time.perf_counter() - began, time.process_time() - began_cpu, gave))
    return min(found, key=lambda one: one[0])


def lost(drawing: TraceDrawing, table: pd.DataFrame) -> int:
    """Pixels of which the drawn line misses the greatest or the least by over half a pixel."""
    ticks = drawing.panel.ticks
    per_px = (ticks[-1].value - ticks[0].value) / (ticks[-1].at - ticks[0].at)
    missed = 0
    for line in drawing.panel.lines:
        ends: dict[int, tuple[int, int]] = {}
        for x, y in _corners(line.path):
            low, high = ends.get(x, (y, y))
            ends[x] = (min(low, y), max(high, y))
        of_line = table[line.code]
        for place, low_c, high_c in zip(
            table.index, of_line["min"], of_line["max"], strict=True
        ):
            near = [ends[x] for x in (place, place + 1) if x in ends]
            top, bottom = (
                2 * (ticks[0].at + (value - ticks[0].value) / per_px)
                for value in (high_c, low_c)
            )
            # A pixel within a straight stroke has no corner of its own, and no peak either.
            far = bool(near) and (
                min(one[0] for one in near) > top + 1.1
                or max(one[1] for one in near) < bottom - 1.1
            )
            missed += far
    return missed


def _corners(path: str) -> list[tuple[int, int]]:
    found = []
    for move in path.split("M")[1:]:
        head, _, rest = move.partition("l")
        x, y = (int(one) for one in re.findall(r"-?\d+", head.partition("h")[0]))
        found.append((x, y))
        steps = [int(one) for one in rest.split()]
        for dx, dy in zip(steps[::2], steps[1::2], strict=True):
            x, y = x + dx, y + dy
            found.append((x, y))
    return found


def main() -> int:
    """Print what it took; 1 where it took too long or lost something."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    trace = made()
    packed = pack(trace)
    laid = laid_of(judge(trace, RECIPE), RECIPE)

    def ours() -> TraceDrawing:
        return draw_run(Pictured(recipe=RECIPE, laid=laid, trace=unpack(packed)))

    ours_s, ours_cpu_s, drawing = least(ours, rounds)
    usual_s, usual_cpu_s, lines = least(lambda: usual(packed), rounds)
    judged_s, judged_cpu_s, _ = least(lambda: judge(trace, RECIPE), rounds)
    boxes = [drawing.panel, drawing.pressure, *(lens.panel for lens in drawing.lenses)]
    letters = sum(len(line.path) for box in boxes if box is not None for line in box.lines)
    missed = lost(drawing, extremes(trace, 0, trace.size, BUCKETS))
    met = ours_s < LIMIT_S and missed == 0
    say(f"{trace.size:,} samples of {CHANNELS} thermocouples and the pressure")
    say(f"read, thinned, drawn  {ours_s:.3f} s (processor {ours_cpu_s:.3f} s), goal {LIMIT_S}")
    say(f"the same by pandas    {usual_s:.3f} s (processor {usual_cpu_s:.3f} s)")
    say(f"ratio                 {ours_s / usual_s:.2f}")
    say(f"judged, for itself    {judged_s:.3f} s (processor {judged_cpu_s:.3f} s)")
    theirs = sum(map(len, lines))
    say(
        f"letters of its lines  {letters:,}; by pandas {theirs:,}; packed {len(packed):,} bytes"
    )
    say(f"pixels that lost one  {missed}  {'met' if met else 'MISSED'}")
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
