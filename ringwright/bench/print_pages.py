"""Labels and route cards, ready for the browser's own print command."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.bench.board import OUTCOMES
from ringwright.bench.printing import MOST, ON_A_SHEET, asked_for, read_papers
from ringwright.core.errors import Refused
from ringwright.kit.datamatrix import blade_mark
from ringwright.kit.render import page
from ringwright.people.screen import AtScreen, Screen
from ringwright.routecards.caution import step_caution

router = APIRouter(include_in_schema=False)


@router.get("/bench/labels", name="bench.labels")
def labels(request: Request, screen: AtScreen, parts: str = "", used: str = "") -> Response:
    """A sheet of labels, one a part; the first `used` places of the sheet stay empty."""
    places = int(used) if used.isascii() and used.isdigit() and len(used) <= 3 else 0
    empty = tuple(range(min(places, ON_A_SHEET - 1)))
    return _drawn(request, screen, "bench/labels.html", parts, {"used": empty})


@router.get("/bench/route-cards", name="bench.route_cards")
def route_cards(request: Request, screen: AtScreen, parts: str = "") -> Response:
    """The route card of each part, with what is done and boxes for what is not."""
    return _drawn(request, screen, "bench/route_cards.html", parts, {})


def _drawn(
    request: Request, screen: Screen, template: str, parts: str, more: dict[str, Any]
) -> Response:
    try:
        asked, trouble = asked_for(parts), ""
    except Refused as refusal:
        asked, trouble = (), refusal.message
    with screen.ledger.read(screen.site) as read:
        papers, lacking = read_papers(read, asked)
        context = {
            "now_us": read.now_us,
            "head_seq": read.head_seq,
            "site_name": read.site.name,
        }
    context |= {
        "papers": papers,
        "lacking": [*([trouble] if trouble else []), *lacking],
        "typed": parts,
        "most": MOST,
        "zone": screen.zone,
        "mark_of": blade_mark,
        "caution": step_caution,
        "outcomes": OUTCOMES,
        **more,
    }
    return page(request, template, status=422 if trouble else 200, **context)
