"""How fast is `replay --compare`? Beside it, in the same run, what reading the rows costs.

The reference does the least that any replay must: in as many processes as the replay uses, read
every event and every projected row and parse every payload. Run:
python -m benchmarks.bench_replay [events] [rounds]
"""

from __future__ import annotations

import json
import os
import sqlite3
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from benchmarks.store import fill
from ringwright.replaying import compare

GOAL = 100_000
"""Events a second."""
TABLES = ("part_now", "visit", "life")


def read_all(path: str, share: int, shares: int) -> int:
    """Read a share of the parts' events and rows, parsing each payload; how many events."""
    connection = sqlite3.connect(path)
    (count,) = connection.execute("SELECT count(*) FROM part_now").fetchone()
    low = connection.execute(
        "SELECT serial FROM part_now ORDER BY serial LIMIT 1 OFFSET ?",
        [count * share // shares],
    ).fetchone()
    high = connection.execute(
        "SELECT serial FROM part_now ORDER BY serial LIMIT 1 OFFSET ?",
        [count * (share + 1) // shares],
    ).fetchone() or ("\U0010ffff",)
    events = 0
    query = (
        "SELECT subject, site_seq, kind, v, at_us, known_at_us, actor, station, corrects, "
        "payload FROM event WHERE site_id = 1 AND subject_kind = 'part' AND subject >= ? AND "
        "subject < ? ORDER BY subject, site_seq"
    )
    for row in connection.execute(query, [*low, *high]):
        json.loads(row[-1])
        events += 1
    for table in TABLES:
        query = f"SELECT * FROM {table} WHERE site_id = 1 AND serial >= ? AND serial < ?"  # noqa: S608
        for row in connection.execute(query, [*low, *high]):
            tuple(row)
    connection.close()
    return events


def reference(path: str) -> tuple[int, float]:
    """(events, seconds) of the reference on all cores."""
    cores = os.cpu_count() or 1
    begun = time.perf_counter()
    with ProcessPoolExecutor(cores, mp_context=get_context("spawn")) as workers:
        read = sum(workers.map(partial(read_all, path, shares=cores), range(cores)))
    return read, time.perf_counter() - begun


def main(events: int = 200_000, rounds: int = 3) -> int:
    """Measure and print; 1 when the goal is missed."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "big.sqlite"
        ledger, load_s = fill(f"sqlite:///{path}", events)
        ledger.store.close()
        print(f"loaded in {load_s:.1f} s; {os.cpu_count()} cores")
        best = 0.0
        for _ in range(rounds):
            read, reference_s = reference(str(path))
            begun = time.perf_counter()
            folded, why = compare(f"sqlite:///{path}")
            replay_s = time.perf_counter() - begun
            assert why is None, why
            best = max(best, folded / replay_s)
            print(
                f"replay {folded} events in {replay_s:.2f} s: {folded / replay_s:,.0f}/s; "
                f"reading {read} in {reference_s:.2f} s: {read / reference_s:,.0f}/s; "
                f"replay costs {replay_s / reference_s:.2f} times the reading"
            )
    print(f"best {best:,.0f} events/s, goal {GOAL:,}: {'met' if best >= GOAL else 'MISSED'}")
    return 0 if best >= GOAL else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
