"""What every page costs: time in the server, statements, rows; on a short and a long record.

The same works with the same weeks, 31,000 and 2,000,000 events, on SQLite and PostgreSQL, asked
in turns in one run, so that a busy neighbour slows both alike. Beside each page stands what
its statements cost by themselves through the bare driver: the least that they must take.
Then the demo: the time of its pages, and what a browser fetches first and afterwards.

Run: python -m benchmarks.pages [--keep FOLDER] [--events N N] [--rounds N] [--stores NAME ...]
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from statistics import median
from typing import Any

from benchmarks.addresses import Address, addresses
from benchmarks.demo_pages import Weight, demo_meter, weigh
from benchmarks.long_store import open_works
from benchmarks.meter import Meter, Work
from benchmarks.stores import POSTGRES, SQLITE, Stores, stores
from benchmarks.works_rules import CODE

MOST_RATIO, MOST_MS, FIRST_BYTES, LATER_BYTES = 1.3, 50.0, 200_000, 30_000
LIMITS_AT = ("/week", "/floor", "/yield", "/trace")
WARM_UP = 2


@dataclass(slots=True)
class Row:
    """One address on one store."""

    times: list[float] = field(default_factory=list)
    cpu: list[float] = field(default_factory=list)
    bytes: int = 0
    statements: int = 0
    work: Work = field(default_factory=lambda: Work(0, 0, 0.0))
    refused: str = ""
    """What it answered where it gave no page."""

    @property
    def ms(self) -> float:
        """The median."""
        return median(self.times)

    @property
    def cpu_ms(self) -> float:
        """The median of the processor's time, with that of a database server beside it."""
        return max(median(self.cpu) + self.work.server_ms, 0.1)


def measure(
    meters: list[Meter], paths: list[str], rounds: int, *, again: bool = False
) -> list[Row]:
    """The same page on each store in turns: no store has the quieter minute.

    Each answer is worked out anew, as after a booking; `again`: as if nothing had been booked.
    """
    rows = [Row() for _ in meters]
    for turn in range(WARM_UP + rounds):
        for meter, path, row in zip(meters, paths, rows, strict=True):
            if not again:
                meter.forget()
            answer = meter.get(path)
            if answer.status not in (200, 302):
                row.refused = f"answers {answer.status}"
            if turn >= WARM_UP:
                row.times.append(answer.ms)
                row.cpu.append(answer.cpu_ms)
            row.bytes = answer.wire
    for meter, path, row in zip(meters, paths, rows, strict=True):
        asked = meter.statements(path)
        row.statements, row.work = len(asked), meter.work(asked)
    return rows


@contextmanager
def works_meters(kept: Stores, kind: str, sizes: list[int]) -> Iterator[list[Meter]]:
    """A meter on a store of each size."""
    with ExitStack() as stack:
        urls = [kept.url(kind, size) for size in sizes]
        yield [stack.enter_context(Meter(open_works(url), url)) for url in urls]


def _addresses(meters: list[Meter]) -> list[list[Address]]:
    found = []
    for meter in meters:
        with meter.ledger.read(CODE) as read:
            found.append(addresses(read))
    return found


def compare(kept: Stores, kind: str, sizes: list[int], asked: Any) -> list[str]:
    """Print the table of one kind of store; what breaks a limit."""
    effort = "steps of SQLite" if kind == SQLITE else "rows that scans looked at"
    print(f"\n{kind}, {sizes[0]:,} and {sizes[1]:,} events; effort: {effort}")
    print(f"{'page':58} {'ms':>7} {'ms':>7} {'ratio':>6} {'cpu':>5} {'SQL':>4} {'rows':>6} "
          f"{'rows':>6} {'effort':>8} {'effort':>9} {'ratio':>6} {'bare ms':>8}")  # fmt: skip
    broken = []
    with works_meters(kept, kind, sizes) as meters:
        for pair in zip(*_addresses(meters), strict=True):
            if not re.search(asked.only, pair[0].shape):
                continue
            rows = measure(meters, [one.path for one in pair], asked.rounds)
            troubles = judge(pair[0], *rows)
            print(line(pair[0], *rows) + ("  !" if troubles else ""), flush=True)
            broken += [f"{kind} {pair[0].shape}: {trouble}" for trouble in troubles]
    return broken


def judge(address: Address, small: Row, large: Row) -> list[str]:
    """What is wrong with a page on the long record, compared with the short one."""
    if small.refused or large.refused:
        return [small.refused or large.refused]
    troubles = []
    # A busy neighbour may spoil a time, not both: the time and the processor's time.
    slower = min(large.ms / small.ms, large.cpu_ms / small.cpu_ms)
    if address.limited and slower > MOST_RATIO:
        troubles.append(f"{slower:.2f} times as slow")
    if large.statements > MOST_RATIO * small.statements:
        troubles.append(f"{small.statements} and {large.statements} statements")
    return troubles


def line(address: Address, small: Row, large: Row) -> str:
    """A line of the table."""
    mark = " " if address.limited else "."
    effort = large.work.effort / max(small.work.effort, 1)
    return (
        f"{mark}{address.shape[:57]:57} {small.ms:7.1f} {large.ms:7.1f} "
        f"{large.ms / small.ms:6.2f} {large.cpu_ms / small.cpu_ms:5.2f} {large.statements:4} "
        f"{small.work.rows:6} {large.work.rows:6} {small.work.effort:8} "
        f"{large.work.effort:9} {effort:6.2f} {large.work.ms:8.1f}"
    )


def demo(keep: str | None, rounds: int) -> list[str]:
    """Print the demo's table; what breaks a limit."""
    broken = []
    with demo_meter(keep) as meter:
        seq, _ = meter.ledger.head()
        print(f"\nthe demo on {SQLITE}, {seq:,} events")
        print(f"{'page':20} {'anew ms':>8} {'cpu ms':>7} {'again ms':>8} {'SQL':>4} "
              f"{'rows':>6} {'bare ms':>8} {'first B':>9} {'later B':>8} "
              f"{'files':>6}")  # fmt: skip
        for path in LIMITS_AT:
            (row,) = measure([meter], [path], max(rounds, 15))
            (known,) = measure([meter], [path], max(rounds, 15), again=True)
            weight: Weight = weigh(meter, path)
            print(f"{path:20} {row.ms:8.1f} {row.cpu_ms:7.1f} {known.ms:8.1f} "
                  f"{row.statements:4} {row.work.rows:6} {row.work.ms:8.1f} "
                  f"{weight.first:9,} {weight.later:8,} {weight.files:6}")  # fmt: skip
            # Again the processor's time speaks where a neighbour took the processor away.
            if min(row.ms, row.cpu_ms) >= MOST_MS:
                broken.append(f"demo {path}: {row.ms:.0f} ms")
            if weight.first >= FIRST_BYTES:
                broken.append(f"demo {path}: {weight.first:,} bytes at first")
            if weight.later >= LATER_BYTES:
                broken.append(f"demo {path}: {weight.later:,} bytes afterwards")
    return broken


def asked(words: list[str] | None) -> Any:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.pages")
    parser.add_argument("--keep", help="a folder whose stores are used again")
    parser.add_argument("--events", type=int, nargs=2, default=[31_000, 2_000_000])
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--stores", nargs="*", default=[SQLITE, POSTGRES])
    parser.add_argument("--only", default="", help="addresses that hold this pattern")
    parser.add_argument("--no-demo", action="store_true")
    return parser.parse_args(words)


def main(words: list[str] | None = None) -> int:
    """Measure and print; 1 when a limit is broken."""
    options = asked(words)
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; limits for pages without a "
          f"dot: ratio {MOST_RATIO}, demo {MOST_MS:.0f} ms, {FIRST_BYTES // 1000} kB, then "
          f"{LATER_BYTES // 1000} kB")  # fmt: skip
    broken = []
    if options.stores:
        with stores(options.keep) as kept:
            for kind in options.stores:
                broken += compare(kept, kind, options.events, options)
    if not options.no_demo:
        broken += demo(options.keep, options.rounds)
    print(f"\nload {os.getloadavg()[0]:.1f} at the end")
    for trouble in broken:
        print(f"BROKEN  {trouble}")
    print("all limits are kept" if not broken else f"{len(broken)} limits are broken")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
