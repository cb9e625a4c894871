"""How long does the week take: the command from a cold start, and the page within the server?

Measured on a small and on a big store, with the number of SQL statements of each page.
Run: python -m benchmarks.bench_week [events]
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from sqlalchemy import event
from starlette.testclient import TestClient

from benchmarks.store import CODE, NOW, PRODUCT, WEEK, fill
from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.signing import open_to_readers

GOAL_S = 0.8
ROUNDS = 7


def command_s(url: str) -> float:
    """Median wall time of `ringwright week --json` [s]."""
    taken = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "ringwright", "week", "--product", PRODUCT, "--week", WEEK,
             "--json"],
            env={**os.environ, "RINGWRIGHT_DATABASE_URL": url, "RINGWRIGHT_NOW": NOW},
            check=True,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
        taken.append(time.perf_counter() - begun)
    return sorted(taken)[ROUNDS // 2]


def pages(url: str, ledger: Any) -> dict[str, tuple[int, float]]:
    """Path to (SQL statements, median milliseconds)."""
    with ledger.read(CODE) as read:
        site_id = read.site.id
    token = make_token(ledger.store, site_id, "manager", None, ledger.clock.now_us())
    statements: list[str] = []

    def count(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if not statement.startswith(("PRAGMA", "BEGIN")):
            statements.append(statement)

    event.listen(ledger.store.engine, "before_cursor_execute", count)
    app = open_to_readers(create_app(Settings(database_url=url), ledger))
    client = TestClient(app, base_url="http://localhost")
    client.headers["Authorization"] = f"Bearer {token}"
    found = {}
    for path in (
        f"/week?week={WEEK}",
        "/bench",
        "/bench?scan=S000001",
        f"/api/week?product={PRODUCT}&week={WEEK}",
    ):
        taken = []
        for _ in range(ROUNDS):
            statements.clear()
            begun = time.perf_counter()
            answer = client.get(path)
            taken.append((time.perf_counter() - begun) * 1000)
            assert answer.status_code == 200, (path, answer.text)
        found[path] = (len(statements), sorted(taken)[ROUNDS // 2])
    return found


def main(events: int = 200_000) -> int:
    """Measure and print; 1 when the command's goal is missed."""
    met = True
    for size in (2_000, events):
        with tempfile.TemporaryDirectory() as folder:
            url = f"sqlite:///{Path(folder) / 'week.sqlite'}"
            ledger, _ = fill(url, size)
            wall_s = command_s(url)
            met = met and wall_s < GOAL_S
            print(f"{size} events: the command takes {wall_s:.2f} s")
            for path, (statements, page_ms) in pages(url, ledger).items():
                print(f"  {path}: {statements} statements, {page_ms:.0f} ms")
            ledger.store.close()
    print(f"goal {GOAL_S} s for the command: {'met' if met else 'MISSED'}")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
