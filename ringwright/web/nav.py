"""The names on the head line, in their order. A new page adds one line."""

from __future__ import annotations

from collections.abc import Container

from ringwright.core.glossary import N_
from ringwright.kit.render import Nav, PageName, ScanPlace

NAMES = (
    PageName(route="flow.week", label=N_("Week")),
    PageName(route="floor.board", label=N_("Floor")),
    PageName(route="bench.page", label=N_("Bench")),
    PageName(route="heatruns.board", label=N_("Furnace")),
    PageName(route="caseshop.week", label=N_("Case shop")),
    PageName(route="sets.builder", label=N_("Blade sets")),
    PageName(route="yields.ladder", label=N_("Yield")),
    PageName(route="trace.touched", label=N_("Traceability")),
    PageName(route="ground.rules", label=N_("Ground rules")),
)
SCAN = ScanPlace(route="find.page", field="q")


def nav_of(routes: Container[str]) -> Nav:
    """The head line of an installation: only pages that it serves."""
    names = tuple(name for name in NAMES if name.route in routes)
    return Nav(names=names, scan=SCAN if SCAN.route in routes else None, home="flow.week")
