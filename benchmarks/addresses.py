"""Which addresses are asked: every page the application has, on what this store holds."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sqlalchemy import text
from starlette.routing import Route

from benchmarks.works_rules import SPOKE
from benchmarks.works_runs import RECIPE
from ringwright.ledger.service import Read
from ringwright.web.factory import room_routers

NOT_PAGES = {"flow.home", "live.stream", "bench.worker", "people.sign_on_return"}
LIMITED = (
    "flow",
    "report",
    "floor",
    "bench",
    "handover",
    "yields",
    "spread",
    "queues",
    "starts",
    "trace",
    "heatruns",
    "find",
)
"""The rooms whose pages must not grow with the record."""
FREE = {
    "report.file",
    "trace.containments",
    "trace.containments_file",
    "handover.notes",
    "heatruns.envelope",
    "heatruns.envelope_file",
}
"""Not held to the limits: the report's drawn forms; a list of all containments ever; a search
through all notes ever; good runs, which are counted over all runs of a recipe's revision."""
GROUPS = ("week", "lot", "station", "furnace", "shift", "revision", "product")
VARIANTS = {
    "flow.week": ("product={product}", "as_of=2026-09-30T12:00", "week=2026-W38"),
    "flow.week_numbers": ("product={product}&week=2026-W40",),
    "flow.ahead": ("product={product}", "as_of=2026-09-30T12:00"),
    "flow.backtest": ("product={product}",),
    "flow.forecast": ("product={product}&week=2026-W40",),
    "report.page": ("week=2026-W38",),
    "yields.numbers": ("product={product}",),
    "yields.chart_api": ("product={product}", "product={product}&step=50&kind=touch"),
    "yields.ladder": ("product={product}", "lot={lot}", "as_of=2026-09-30T12:00",
                      *(f"by={group}" for group in GROUPS)),
    "yields.chart": ("product={product}&point=2026-W39", "step=30&kind=singles&side=yes"),
    "yields.compare": tuple(f"step=30&by={group}" for group in GROUPS[:6]),
    "yields.losses": ("product={product}", "lot={lot}"),
    "spread.page": ("of=80.width", "of=80.width&among=cell", "of=80.width&among=stock",
                    "of=80.width&counts=every&last=300"),
    "queues.page": ("weeks=1", "weeks=4", "as_of=2026-09-30T12:00"),
    "starts.page": ("product={product}&sets=3", "as_of=2026-09-30T12:00"),
    "starts.plan": ("product={product}&sets=3",),
    "handover.page": ("as_of=2026-09-30T12:00", "shift=2026-09-22T06:00:00%2B02:00"),
    "handover.notes": ("q=look", "q={done}"),
    "heatruns.week": ("week=2026-W38", "as_of=2026-09-30T12:00"),
    "floor.board": ("product={product}", "as_of=2026-09-30T12:00"),
    "floor.parts": ("state=waiting", "state=held", "product={product}&step=50"),
    "bench.page": ("scan={open}", "scan={done}"),
    "bench.station": ("station=TB-1",),
    "trace.touched": (
        "lot={lot}",
        "part={done}",
        "gauge=G-1&from=2026-09-28T00:00&to=2026-09-30T00:00",
        "station=FU-1&from=2026-09-28T00:00&to=2026-09-30T00:00",
        "person=maker-3&from=2026-09-28T00:00&to=2026-09-30T00:00",
        "defect=scratch&from=2026-09-01T00:00&to=2026-09-30T00:00",
    ),
    "trace.file": ("lot={lot}",),
    "trace.preview": ("lot={lot}",),
    "trace.list": ("lot={lot}",),
    "find.page": ("q={done}", "q={lot}", "q=scratch"),
}  # fmt: skip
"""What a page is asked besides its bare address."""
ONLY_ASKED = {
    "flow.week_numbers",
    "flow.forecast",
    "yields.numbers",
    "starts.plan",
    "trace.file",
    "trace.preview",
    "trace.list",
}
"""These answer nothing without being asked something."""


@dataclass(frozen=True, slots=True)
class Address:
    """One address of a page, and whether the limits hold for it."""

    route: str
    shape: str
    """As printed: the same for every store."""
    path: str
    limited: bool


def addresses(read: Read) -> list[Address]:
    """Every GET address of every room, its places filled with what this store holds.

    An address with a place that this works has nothing for (sets, packs,
    files, the reading of a run) is left out.
    """
    samples = _samples(read)
    routes = [route for router in room_routers() for route in router.routes]
    found = []
    for route in routes:
        if not isinstance(route, Route) or "GET" not in (route.methods or ()):
            continue
        if route.name in NOT_PAGES:
            continue
        shape = re.sub(r"\{(\w+)[^}]*\}", r"{\1}", route.path)
        asked = [f"{shape}?{query}" for query in VARIANTS.get(route.name, ())]
        bare = [] if route.name in ONLY_ASKED else [shape]
        if not set(re.findall(r"\{(\w+)\}", shape)) <= samples.keys():
            continue
        limited = route.name.split(".")[0] in LIMITED and route.name not in FREE
        found += [
            Address(route.name, each, each.format(**samples), limited)
            for each in (*bare, *asked)
        ]
    return sorted(found, key=lambda one: (not one.limited, one.shape))


def _samples(read: Read) -> dict[str, str]:
    """A part long done, a part on the floor, a lot, a containment, a furnace."""

    def first(statement: str) -> str:
        return str(read.connection.execute(text(statement)).scalar_one())

    done = first(
        "SELECT serial FROM part_now WHERE product = 'WHEEL' AND place = 'sent' "
        "ORDER BY since_us DESC, serial LIMIT 1"
    )
    return {
        "product": SPOKE.code,
        "revision": "1",
        "form": "csv",
        "serial": done,
        "done": done,
        "open": first(
            "SELECT serial FROM part_now WHERE product = 'SPOKE' AND place = 'waiting' "
            "AND hold IS NULL AND step > 50 ORDER BY since_us DESC, serial LIMIT 1"
        ),
        "furnace": "FU-1",
        "recipe": RECIPE,
        "lot": first(
            "SELECT lot FROM part_now WHERE product = 'SPOKE' AND place = 'sent' "
            "ORDER BY since_us DESC, serial LIMIT 1"
        ),
        "code": first(
            "SELECT value FROM condition WHERE kind = 'containment' "
            "ORDER BY from_us DESC, value LIMIT 1"
        ),
    }
