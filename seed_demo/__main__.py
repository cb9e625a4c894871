"""`python -m seed_demo`: load the demo into the store, or tell it on to now, and no more."""

from __future__ import annotations

import sys
import time

from ringwright.assembly import bring_up, ledger_of
from ringwright.settings import read_settings
from seed_demo.service import run_demo


def main() -> int:
    """Bring the store of the settings to now and say how long it took."""
    settings = read_settings()
    begun = time.monotonic()
    bring_up(settings.database_url, say)
    ledger = ledger_of(settings)
    try:
        run_demo(ledger, say)
    finally:
        ledger.store.close()
    say(f"Done in {time.monotonic() - begun:.1f} s.")
    return 0


def say(text: str) -> None:
    """Tell whoever waits."""
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
