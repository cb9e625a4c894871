"""Move by scan: things, then a place. No address here books on a GET."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.floor.moving import Moving, scanned
from ringwright.kit.forms import Sent
from ringwright.kit.render import page, path_for
from ringwright.people.screen import AtScreen, Screen

router = APIRouter(include_in_schema=False)


@router.get("/floor/move", name="floor.move")
def move(
    request: Request, screen: AtScreen, to: str | None = None, count: str | None = None
) -> Response:
    """Scan what is moved; after a move the address says what was done."""
    done = int(count) if count and count.isdigit() and len(count) < 6 else 0
    return _drawn(request, screen, Moving(), (to or "", done))


@router.post("/floor/move", name="floor.scan")
def scan(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """One scan; the one that names the place books the move."""
    moving = scanned(screen, sent)
    if moving.booked is None:
        return _drawn(request, screen, moving, ("", 0))
    booked = moving.booked
    count = len(booked.parts) + len(booked.carriers)
    return RedirectResponse(path_for(request, "floor.move", to=booked.to, count=count), 303)


def _drawn(request: Request, screen: Screen, moving: Moving, done: tuple[str, int]) -> Response:
    status = moving.trouble.status if moving.trouble else 200
    return page(
        request,
        "floor/move.html",
        status=status,
        screen=screen,
        moving=moving,
        done=done,
        then="move",
        serial="",
        # The one scan field of this page is its own.
        scan=None,
    )
