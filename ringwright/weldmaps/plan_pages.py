"""The weld plan of one product: what it asks, and a form that revises it."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused
from ringwright.core.glossary import N_
from ringwright.flow.moment import past_us
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import page, path_for
from ringwright.ledger.drawn import snapshot_of
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.routecards.queries import read_revisions
from ringwright.welds.card import DIRECTIONS, PROCESSES, TECHNIQUES, wire_mm
from ringwright.welds.queries import read_plans
from ringwright.welds.service import SetWeldPlan
from ringwright.welds.toml import parse_plan, plan_text

router = APIRouter(include_in_schema=False)
MOST_BYTES = 100_000


@router.get("/case/welds/plans/{product:path}", name="weldmaps.plan")
def show_plan(
    request: Request, screen: AtScreen, product: str, as_of: str | None = None
) -> Response:
    """How is this product welded, and by what is a weld accepted?"""
    return _page(request, screen, (product, as_of), None)


@router.post("/case/welds/plans/{product:path}", name="weldmaps.plan_act")
def set_plan(request: Request, screen: AtScreen, product: str, sent: Sent) -> Response:
    """Add the plan, or a revision of it."""

    def do(screen: Screen, given: Given) -> object:
        plan = parse_plan(_text(given))
        if plan.product != product:
            raise Refused(f"the plan is of {plan.product}; open the page of that product")
        command = SetWeldPlan(plan=plan, reason=given.text("reason"), key=key_of(given))
        return screen.ledger.execute(screen.site, command, screen.actor)

    tried = attempt(screen, sent, N_("Weld plan not kept"), do)
    if tried is not None:
        return _page(request, screen, (product, None), tried)
    return RedirectResponse(path_for(request, "weldmaps.plan", product=product), 303)


def _text(given: Given) -> str:
    file = given.files.get("file")
    if file is not None and file.content:
        return file.text(MOST_BYTES, ("toml", "txt"))
    if not given.text("plan"):
        raise Refused("choose a weld plan file, or type the plan")
    return given.text("plan")


def _page(
    request: Request, screen: Screen, asked: tuple[str, str | None], tried: Tried | None
) -> Response:
    product, as_of = asked
    at_us = past_us(screen.ledger, screen.site, as_of)
    with screen.ledger.read(screen.site, at_us) as read:
        if not read_revisions(read.connection, read.site.id, product):
            raise Missing(f"there is no product {product[:60]}")
        known = (read.connection, read.site.id, product, read.known_before_us)
        plans = read_plans(*known)
        drawn = snapshot_of(read, to_the_minute=True)
    newest = plans[-1].plan if plans else None
    words: dict[str, Any] = {
        "processes": PROCESSES,
        "directions": DIRECTIONS,
        "techniques": TECHNIQUES,
        "wire": wire_mm(newest.acceptance.wire) if newest else None,
    }
    return page(
        request,
        "weldmaps/plan.html",
        status=tried.status if tried else 200,
        product=product,
        plans=plans,
        plan=newest,
        text=plan_text(newest) if newest else "",
        sheet=drawn,
        screen=screen,
        tried=tried,
        given=tried.given if tried else NOTHING,
        key=new_key(),
        **words,
    )
