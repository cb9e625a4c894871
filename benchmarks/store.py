"""A big record to measure on: two years of parts of one product through five steps."""

from __future__ import annotations

import os
import random
import time
from collections.abc import Iterator
from pathlib import Path

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.ledger.migrate import migrate
from ringwright.ledger.service import Ledger
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site

CODE, PRODUCT, WEEK = "FJELLVIK", "SPOKE", "2026-W40"
NOW = "2026-10-01T12:00:00+02:00"
SITE = """
[site]
code = "FJELLVIK"
name = "Fjellvik Spoke Works"
zone = "Europe/Oslo"
[[station]]
code = "bench-1"
name = "Bench 1"
[[person]]
code = "insp-1"
roles = ["inspector"]
"""
STEPS = (10, 20, 30, 40, 50)
ROUTE = '[product]\ncode = "SPOKE"\nname = "Spoke"\ntarget_per_week = 200\n' + "".join(
    f'[[step]]\nnumber = {number}\nname = "Step {number}"\nkind = "machining"\n'
    "planned_hours = 1.0\nqueue_hours = 4.0\n"
    for number in STEPS
)
MINUTE_US = 60_000_000
EVENTS_OF_PART = 1 + 2 * len(STEPS)
SPAN_US = 104 * 7 * 24 * 60 * MINUTE_US


def rows(events: int, seed: int = 1) -> Iterator[tuple[int, dict[str, str]]]:
    """About so many history rows, as `load history` reads them; they end at NOW."""
    dice = random.Random(seed)
    parts = max(events // EVENTS_OF_PART, 1)
    end_us = parse_instant(NOW)
    line = 1
    for number in range(parts):
        at_us = end_us - SPAN_US + SPAN_US * number // parts
        for row in _life(f"S{number:06}", at_us, end_us, dice):
            line += 1
            yield line, row


def _life(
    serial: str, at_us: int, end_us: int, dice: random.Random
) -> Iterator[dict[str, str]]:
    yield _row(serial, at_us, "create", "", "")
    for step in STEPS:
        for act in ("begin", "end"):
            at_us += dice.randint(20, 600) * MINUTE_US
            if at_us >= end_us:
                return
            outcome = "" if act == "begin" else ("scrap" if dice.random() < 0.01 else "pass")
            yield _row(serial, at_us, act, str(step), outcome)
            if outcome == "scrap":
                return


def _row(serial: str, at_us: int, act: str, step: str, outcome: str) -> dict[str, str]:
    seconds = at_us // 1_000_000
    return {
        "at": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(seconds)),
        "serial": serial,
        "product": PRODUCT,
        "act": act,
        "step": step,
        "outcome": outcome,
        "defect": "pin hole" if outcome == "scrap" else "",
        "station": "bench-1",
        "by": "maker-1",
    }


def fill(url: str, events: int) -> tuple[Ledger, float]:
    """Migrate an empty store and load about so many events; (record, seconds of loading)."""
    migrate(url)
    ledger = open_ledger(Store(url), FixedClock(parse_instant(NOW)))
    ledger.open_site(CODE)
    ledger.execute(CODE, ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    ledger.execute(CODE, LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    given = list(rows(events))
    begun = time.perf_counter()
    ledger.execute(CODE, LoadHistory(rows=given), SYSTEM)
    return ledger, time.perf_counter() - begun


def fsync_p50_ms(folder: Path, times: int = 200) -> float:
    """What one synced write costs here: the floor under every booking [ms]."""
    path = folder / "fsync.probe"
    taken = []
    with path.open("wb") as file:
        for _ in range(times):
            file.write(bytes(4096))
            file.flush()
            begun = time.perf_counter()
            os.fsync(file.fileno())
            taken.append(time.perf_counter() - begun)
    path.unlink()
    return sorted(taken)[times // 2] * 1000
