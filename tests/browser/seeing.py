"""What a page shows to eyes, to fingers, and to the tools of people who see otherwise."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, Literal

import pytest
from playwright.sync_api import Page
from starlette.routing import Route

from ringwright.web.factory import room_routers
from tests.make.films import FILM
from tests.make.signing import AS
from tests.make.states import STUDY

Scheme = Literal["light", "dark"]
AXE: Final = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LOOKS: Final = (Path(__file__).parent / "looks.js").read_text(encoding="utf-8")
SIZES: Final = {"desk": (1366, 768), "tablet": (834, 1112), "phone": (390, 844)}
TAGS: Final = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
"""W3C Web Content Accessibility Guidelines 2.2, levels A and AA, as axe-core tests them."""
LIKE_ROWS: Final = 12
"""Rows of a table that axe is shown."""
NOT_PAGES: Final = frozenset(
    {
        "flow.home", "live.stream", "sets.run", "bench.worker", "attachments.photo",
        "attachments.thumbnail", "attachments.image",
    }
)  # fmt: skip


def page_paths(samples: dict[str, str]) -> list[str]:
    """Every GET page of every room, its places filled; one with a place not sampled is left."""
    routes = [route for router in room_routers() for route in router.routes]
    pages = [route for route in routes if isinstance(route, Route) and _is_page(route)]
    known = [route.path for route in pages if set(route.param_convertors) <= set(samples)]
    return sorted({re.sub(r"\{(\w+)[^}]*\}", lambda m: samples[m[1]], path) for path in known})


def places_of_pages() -> set[str]:
    """The names of every place in the path of a page."""
    routes = [route for router in room_routers() for route in router.routes]
    pages = [route for route in routes if isinstance(route, Route) and _is_page(route)]
    return {name for route in pages for name in route.param_convertors}


def _is_page(route: Route) -> bool:
    gets = "GET" in (route.methods or ()) and not route.path.startswith("/api")
    return gets and "form" not in route.param_convertors and route.name not in NOT_PAGES


def sampled(paths: list[str], of: int) -> list[Any]:
    """One page of so many in a whole run; ./check --long takes every one."""
    return [
        path if place % of == 0 else pytest.param(path, marks=pytest.mark.long)
        for place, path in enumerate(paths)
    ]


def see(page: Page, address: str) -> None:
    """Go to a page and bring our looks to it."""
    page.goto(address)
    page.evaluate(LOOKS)


def look(page: Page, name: str, given: float | bool | None = None) -> list[str]:
    """What one look finds wrong; those that only do something find nothing."""
    found: list[str] | None = page.evaluate(f"(given) => looks.{name}(given)", given)
    return found or []


def show(page: Page, size: str, scheme: Scheme) -> None:
    """Turn the same page to another width and to light or dark."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme=scheme, media="screen")


def arm(page: Page) -> None:
    """Bring axe to the page that stands, and leave it a dozen rows of each table."""
    page.evaluate(AXE)
    look(page, "keepRows", LIKE_ROWS)


def found_by_axe(page: Page) -> list[str]:
    """What axe finds, one line each; the page must be armed.

    The rule of criterion 1.4.6 (7:1) stands for that of 1.4.3 (4.5:1), which it implies.
    """
    rules = {
        "color-contrast": {"enabled": False},
        "color-contrast-enhanced": {"enabled": True},
    }
    options = {"runOnly": list(TAGS), "rules": rules, "resultTypes": ["violations"]}
    answer: dict[str, Any] = page.evaluate(f"axe.run(document, {json.dumps(options)})")
    return [
        f"{rule['id']}: {len(rule['nodes'])}, first {node['target']} {node['html'][:160]}"
        for rule in answer["violations"]
        for node in rule["nodes"][:1]
    ]


def found_at(page: Page, size: str, scheme: Scheme) -> list[str]:
    """What is wrong with the page at one width, in one scheme."""
    show(page, size, scheme)
    found = found_by_axe(page) + look(page, "sideways") + look(page, "small")
    return [f"{size} {scheme}: {trouble}" for trouble in found]


def hear_nothing(page: Page, away: str) -> None:
    """Lose the server behind the addresses `away`, and let time go by on the page's clock."""
    page.route(away, lambda route: route.abort())
    for _ in range(2):  # an answer that was on its way may still come in the first
        page.clock.fast_forward(95_000)
        page.clock.run_for(6_000)


def choose(page: Page, address: str) -> None:
    """Let the supervisor act at Bench 4."""
    page.set_extra_http_headers({AS: "sup-1"})
    page.goto(f"{address}/bench/station")
    page.select_option("#choose-station", "B4")
    with page.expect_event("load"):
        page.get_by_role("button", name="Choose", exact=True).click()


SAMPLES: Final = {"serial": "B-001", "product": "BLADE", "revision": "1", "code": "C-1"}
SAMPLES.update({"set_code": "BLADE-S001", "gauge": "CMM-1", "number": str(STUDY)})
SAMPLES.update({"pack": "P-0001", "sheet": "P-0001-001"})
SAMPLES.update({"furnace": "HF-1", "recipe": "SLOW", "run": "HF-1-0003"})
SAMPLES["station"] = "CV-1"
SAMPLES.update({"digest": FILM.digest})
SAMPLES.update({"weld": "1-OUT", "film": "A1"})
SAMPLES.update({"container": "SW-0001"})
"""A value for each place in a page's path; a page with another place needs a line here."""
MORE: Final = (
    "/bench?scan=B-904",
    "/bench?scan=B-909",
    "/bench?scan=B-910",
    "/bench/nonconformities?open=1",
    "/find?q=B-9",
    "/floor?product=CASE",
    "/furnace/runs/HF-1-0001",
    "/furnace/runs/HF-1-0002",
    "/furnace/runs/HF-2-0001",
    "/floor/search?serial=B-902",
    "/ground?kind=station&code=B4",
    f"/attachments/{FILM.digest}/view?ax=5&ay=5&bx=50&by=40&part=B-901",
    "/nowhere",
    "/spread?product=BLADE&of=30.wall",
    "/trace?lot=L-1",
    "/trace?station=F1",
    "/trace/contain?lot=L-2",
    "/week?week=2026-W39&product=BLADE",
    "/yield?product=BLADE&weeks=1",
)
"""Pages that show more, or refuse, when they are asked for something."""
PAGES: Final = [*page_paths(SAMPLES), *MORE]
