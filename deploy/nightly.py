"""The worker's night: audit the record, back it up, keep the newest backups.

A failed audit or backup is named in the log and tried again the next night; the app goes on.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo


def next_night(now: datetime, at: str) -> datetime:
    """The next time the clock on the wall shows `at`, a 24-hour HH:MM."""
    hour, minute = (int(part) for part in at.split(":"))
    tonight = now.replace(hour=hour, minute=minute, second=0, microsecond=0)
    return tonight if tonight > now else tonight + timedelta(days=1)


def spare(backups: Path, keep: int) -> list[Path]:
    """The backups beyond the newest that are kept; their names sort by time."""
    return sorted(backups.glob("ringwright-*.backup"))[: -max(keep, 1)]


def run(*command: str) -> bool:
    """Run one Ringwright command; say in the log how it went."""
    code = subprocess.run([sys.executable, "-m", "ringwright", *command]).returncode
    print(f"nightly: {command[0]} {'done' if code == 0 else f'FAILED with {code}'}", flush=True)
    return code == 0


def night(backups: Path, keep: int, now: datetime, run: Callable[..., bool] = run) -> bool:
    """Audit, back up, and only after a good backup let old ones go."""
    sound = run("audit")
    unfinished = backups / "unfinished"
    unfinished.unlink(missing_ok=True)
    if not run("backup", str(unfinished)):
        return False
    unfinished.rename(backups / f"ringwright-{now:%Y-%m-%d-%H%M}.backup")
    if sound:
        for old in spare(backups, keep):
            old.unlink()
    return sound


def main() -> None:
    """Sleep until the night, work, and so on for ever."""
    zone = ZoneInfo(os.environ.get("RINGWRIGHT_ZONE", "UTC"))
    at = os.environ.get("RINGWRIGHT_NIGHTLY_AT", "02:30")
    keep = int(os.environ.get("RINGWRIGHT_KEEP_BACKUPS", "14"))
    while True:
        due = next_night(datetime.now(zone), at)
        print(f"nightly: next audit and backup at {due.isoformat()}", flush=True)
        while (wait_s := (due - datetime.now(zone)).total_seconds()) > 0:
            time.sleep(min(wait_s, 60))
        night(Path("/backups"), keep, due)


if __name__ == "__main__":
    main()
