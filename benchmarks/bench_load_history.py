"""How long does a 33,000-row history take to load, by the command, start-up included?

Run: python -m benchmarks.bench_load_history [rows]. Set RINGWRIGHT_DATABASE_URL to an empty
PostgreSQL database to measure there; otherwise a SQLite file is made.
"""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.store import CODE, ROUTE, SITE, fsync_p50_ms, rows
from ringwright.parts.facts import HISTORY_ACTS

GOAL_S = 20.0
COLUMNS = (
    "at", "serial", "product", "act", "step", "outcome", "defect", "characteristic", "value",
    "unit", "lot", "station", "by",
)  # fmt: skip


def write_csv(path: Path, count: int) -> int:
    """A history file of about so many rows; answers how many it holds."""
    written = 0
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, COLUMNS, restval="")
        out.writeheader()
        for _, row in rows(count + count // 50):
            assert row["act"] in HISTORY_ACTS
            out.writerow(row)
            written += 1
            if written == count:
                break
    return written


def run(url: str, *words: str) -> float:
    """Run a command; seconds it took."""
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "ringwright", *words],
        env={**os.environ, "RINGWRIGHT_DATABASE_URL": url},
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return time.perf_counter() - begun


def main(count: int = 33_000) -> int:
    """Measure and print; 1 when the goal is missed."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        url = os.environ.get("RINGWRIGHT_DATABASE_URL", f"sqlite:///{folder / 'load.sqlite'}")
        for file, text in (("site.toml", SITE), ("route.toml", ROUTE)):
            (folder / file).write_text(text, encoding="utf-8")
            run(url, "load", file.removesuffix(".toml"), str(folder / file))
        written = write_csv(folder / "history.csv", count)
        first_s = run(url, "load", "history", "--site", CODE, str(folder / "history.csv"))
        again_s = run(url, "load", "history", "--site", CODE, str(folder / "history.csv"))
        probe_ms = fsync_p50_ms(folder)
    print(
        f"{written} rows in {first_s:.1f} s ({written / first_s:,.0f}/s), "
        f"the same file again in {again_s:.1f} s; fsync p50 {probe_ms:.2f} ms"
    )
    print(f"goal {GOAL_S:.0f} s: {'met' if first_s < GOAL_S else 'MISSED'}")
    return 0 if first_s < GOAL_S else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
