"""The reporter's week: the report of the week that has ended, for each product that is named.

A report that fails is named in the log, the others are made all the same. The same week asked
again gives the same files, so one that is missing can be made by hand at any time.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def next_report(now: datetime, at: str) -> datetime:
    """The next time the calendar and clock on the wall show `at`, such as Mon 06:10."""
    day, clock = at.split()
    hour, minute = (int(part) for part in clock.split(":"))
    today = now.replace(hour=hour, minute=minute, second=0, microsecond=0)
    due = today + timedelta(days=(DAYS.index(day) - now.weekday()) % 7)
    return due if due > now else due + timedelta(days=7)


def week_ended(due: datetime) -> str:
    """The ISO week of three days before: early in a week the one that has just ended."""
    year, week, _ = (due - timedelta(days=3)).isocalendar()
    return f"{year}-W{week:02}"


def run(*command: str) -> bool:
    """Run one Ringwright command; say in the log how it went."""
    code = subprocess.run([sys.executable, "-m", "ringwright", *command]).returncode
    told = "done" if code == 0 else f"FAILED with {code}"
    print(f"weekly: {' '.join(command)} {told}", flush=True)
    return code == 0


def reports(products: Sequence[str], due: datetime, run: Callable[..., bool] = run) -> bool:
    """The report of each product; True where all were made."""
    week = week_ended(due)
    made = [
        run("report", "--product", product, "--week", week, "--to", "/reports")
        for product in products
    ]
    return all(made)


def main() -> None:
    """Sleep until the reports are due, make them, and so on for ever."""
    zone = ZoneInfo(os.environ.get("RINGWRIGHT_ZONE", "UTC"))
    at = os.environ.get("RINGWRIGHT_REPORT_AT", "Mon 06:10")
    named = os.environ.get("RINGWRIGHT_REPORT_PRODUCTS", "").split(",")
    products = [product.strip() for product in named if product.strip()]
    if not products:
        print("weekly: RINGWRIGHT_REPORT_PRODUCTS names no product, so none is reported")
    while True:
        due = next_report(datetime.now(zone), at)
        print(f"weekly: next reports at {due.isoformat()}", flush=True)
        while (wait_s := (due - datetime.now(zone)).total_seconds()) > 0:
            time.sleep(min(wait_s, 60))
        reports(products, due)


if __name__ == "__main__":
    main()
