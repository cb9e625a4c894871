"""The history of the invented factory, told from a seed, as far as asked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ringwright.core.calendar import week_before, week_of, week_window
from ringwright.demo.factory import Factory
from ringwright.demo.floor import demo_routes, demo_site
from ringwright.demo.office import Office

WEEKS_BEFORE: Final = 6
"""Whole weeks of history before the week in which the demo is first loaded."""


def history_start(now_us: int) -> int:
    """The start of the site's week, six weeks before the week that holds `now_us`."""
    site = demo_site()
    week = week_before(week_of(now_us, site.zone, site.week_starts), WEEKS_BEFORE)
    return week_window(week, site.zone, site.week_starts)[0]


def simulate(*, seed: int = 1, start_us: int, until_us: int) -> Iterator[dict[str, str]]:
    """History rows in order of time, from `start_us` up to but not at `until_us`.

    The same seed and start give the same rows, whatever `until_us` is: a later one only adds.
    """
    site, cards = demo_site(), demo_routes()
    factory = Factory(site, cards, seed, start_us)
    Office(factory, cards, start_us)
    rows = factory.pen.rows
    while factory.next_us < until_us:
        factory.step_on()
        yield from rows
        rows.clear()
