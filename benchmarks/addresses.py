"""Which addresses are asked: every page the application has, on what this store holds."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sqlalchemy import text
from starlette.routing import Route

from benchmarks.works_rules import SPOKE
from ringwright.ledger.service import Read
from ringwright.web.factory import room_routers

NOT_PAGES = {"flow.home", "live.stream"}
LIMITED = ("flow", "floor", "yields", "trace")
"""The rooms whose pages must not grow with the record: Week, Floor, Yield, Traceability."""
VARIANTS = {
    "flow.week": ("product={product}", "as_of=2026-09-30T12:00", "week=2026-W38"),
    "flow.week_numbers": ("product={product}&week=2026-W40",),
    "yields.numbers": ("product={product}",),
    "yields.chart_api": ("product={product}", "product={product}&step=50&kind=touch"),
    "yields.ladder": ("product={product}", "lot={lot}", "by=furnace"),
    "yields.chart": ("product={product}&point=2026-W39", "step=50&kind=singles&side=yes"),
    "yields.compare": ("product={product}&by=lot", "step=50&by=station"),
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
}
"""What a page is asked besides its bare address."""
ONLY_ASKED = {
    "flow.week_numbers",
    "yields.numbers",
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
    """Every GET address of every room, its places filled with what this store holds."""
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
        limited = route.name.split(".")[0] in LIMITED
        found += [
            Address(route.name, each, each.format(**samples), limited)
            for each in (*bare, *asked)
        ]
    return sorted(found, key=lambda one: (not one.limited, one.shape))


def _samples(read: Read) -> dict[str, str]:
    """A part long done, a part on the floor, a lot, a containment."""

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
        "lot": first(
            "SELECT lot FROM part_now WHERE product = 'SPOKE' AND place = 'sent' "
            "ORDER BY since_us DESC, serial LIMIT 1"
        ),
        "code": first(
            "SELECT value FROM condition WHERE kind = 'containment' "
            "ORDER BY from_us DESC, value LIMIT 1"
        ),
    }
