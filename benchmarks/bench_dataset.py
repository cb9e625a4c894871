"""What the Parquet data set costs: `python -m benchmarks.bench_dataset [events]`.

Beside ours, in the same run, pyarrow writes the same rows from memory into the same months, which
is the least that any export must do. The memory is the process's highest, before and after, so
that a set larger than the memory can be told from one that is held in it.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import pyarrow.dataset as ds
import pyarrow.parquet as pq

from benchmarks.store import CODE, fill
from ringwright.dataset.service import write_dataset


def timed(work: Callable[[], object]) -> float:
    """Seconds that it took."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def highest_mb() -> float:
    """The most memory that this process has held so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def from_memory(folder: Path, into: Path) -> Callable[[], object]:
    """A second writing of the same rows, all of them read beforehand."""
    tables = [
        (path.relative_to(folder), pq.read_table(path, partitioning=None))
        for path in sorted(folder.rglob("*.parquet"))
    ]

    def write() -> None:
        for path, table in tables:
            (into / path).parent.mkdir(parents=True, exist_ok=True)
            pq.write_table(table, into / path, compression="zstd")

    return write


def main() -> None:
    """Write it, write it again from memory, and say what both took."""
    events = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    with tempfile.TemporaryDirectory() as name:
        here = Path(name)
        ledger, _seconds = fill(f"sqlite:///{here / 'big.sqlite'}", events)
        before_mb = highest_mb()
        with ledger.read(CODE) as read:
            ours_s = timed(lambda: write_dataset(read, here / "set"))
        after_mb = highest_mb()
        rows = sum(
            ds.dataset(here / "set" / table, format="parquet").count_rows()
            for table in ("parts", "visits")
        )
        theirs_s = timed(from_memory(here / "set", here / "again"))
        ledger.store.close()
    sys.stdout.write(
        f"{rows:,} rows of {events:,} events in {ours_s:.1f} s, {rows / ours_s:,.0f} a second; "
        f"{ours_s / theirs_s:.1f} times pyarrow from memory ({theirs_s:.2f} s); "
        f"memory {before_mb:.0f} MB before, {after_mb:.0f} MB at its highest\n"
    )


if __name__ == "__main__":
    main()
