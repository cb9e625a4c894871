"""The demo in a store at an instant, for tests; what was opened is closed after each."""

from __future__ import annotations

from ringwright.assembly import open_ledger
from ringwright.core.clock import FixedClock
from ringwright.db import Store
from ringwright.ledger.service import Ledger
from seed_demo.service import run_demo
from tests.demo.story import NOW

WEEKS = 3
OPEN: list[Ledger] = []


def opened(url: str, now_us: int = NOW) -> Ledger:
    """A store at an instant, closed after the test."""
    OPEN.append(open_ledger(Store(url), FixedClock(now_us)))
    return OPEN[-1]


def at_work(url: str, now_us: int = NOW, weeks: int = WEEKS) -> tuple[Ledger, list[str]]:
    """A store with the demo told up to an instant, first loaded at `NOW`; what was said."""
    ledger = opened(url, now_us)
    said: list[str] = []
    run_demo(ledger, said.append, weeks, NOW)
    return ledger, said
