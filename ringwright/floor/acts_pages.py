"""Shut and open, search, priority: forms of the Floor. No address here books on a GET."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.floor.looking import open_searches, read_trail
from ringwright.floor.queries import shut_things
from ringwright.floor.service import FindAgain, OpenUp, Prioritise, Seek, ShutIt
from ringwright.flow.service import moment_of
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import page, path_for
from ringwright.parts.queries import read_part
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.words import ROLE_WORDS
from ringwright.routecards.queries import read_revisions

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """An act that was refused: which, why, and what was typed."""

    title: str
    error: RingwrightError
    given: Given


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a page of acts is told besides its subject."""

    screen: Screen
    tried: Tried | None = None
    key: str = field(default_factory=new_key)

    @property
    def status(self) -> int:
        """The HTTP status of the page."""
        return self.tried.error.status if self.tried else 200

    def typed(self, name: str) -> str:
        """What stood in a field when the act was refused."""
        return self.tried.given.text(name) if self.tried else ""


@router.get("/floor/shut", name="floor.shut")
def shut(request: Request, screen: AtScreen) -> Response:
    """What is shut now; shut something; open it again."""
    return _shut_page(request, Told(screen=screen))


@router.post("/floor/shut", name="floor.shut_act")
def shut_act(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Shut or open; without scripts the browser is led back to the page."""
    title = N_("Not opened") if sent.text("act") == "open" else N_("Not shut")
    tried = _try(screen, sent, _shutting, title)
    if tried is None:
        return RedirectResponse(path_for(request, "floor.shut"), 303)
    return _shut_page(request, Told(screen=screen, tried=tried))


def _shutting(sent: Given) -> Any:
    if sent.text("act") == "open":
        return OpenUp(thing=sent.text("thing"), reason=sent.text("open_reason"), key=_key(sent))
    named = [sent.text("thing")] if sent.text("thing") else []
    named += [f"{kind}:{sent.text(kind)}" for kind in ("lot", "recipe") if sent.text(kind)]
    if len(named) != 1:
        raise Refused("choose one thing to shut: a station or step, or a lot, or a recipe")
    kind, _, code = named[0].partition(":")
    return ShutIt(
        kind=kind,
        code=code,
        reason=sent.text("reason"),
        opener=sent.text("opener"),
        key=_key(sent),
    )


def _shut_page(request: Request, told: Told) -> Response:
    screen = told.screen
    with screen.ledger.read(screen.site) as read:
        rows = read.connection.execute(shut_things(read, moment_of(read))).all()
        revisions = read_revisions(read.connection, read.site.id)
        now_us = read.now_us
    steps = {
        f"step:{row.product}/{step.number}": f"{row.product} {step.number} {step.name}"
        for row in revisions
        for step in row.card.steps
    }
    return page(
        request,
        "floor/shut.html",
        status=told.status,
        told=told,
        screen=screen,
        rows=rows,
        steps=steps,
        roles=ROLE_WORDS,
        zone=screen.zone,
        now_us=now_us,
        asked=request.query_params.get("subject", ""),
        then="shut",
        serial="",
    )


@router.get("/floor/search", name="floor.search")
def search(request: Request, screen: AtScreen, serial: str | None = None) -> Response:
    """Parts looked for, and where to look for one."""
    return _search_page(request, Told(screen=screen), serial)


@router.post("/floor/search", name="floor.search_act")
def search_act(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Start a search, or say where the part was found."""
    title = N_("Not booked as found") if sent.text("act") == "find" else N_("Not looked for")
    tried = _try(screen, sent, _searching, title)
    serial = sent.text("serial")
    if tried is None:
        return RedirectResponse(path_for(request, "floor.search", serial=serial), 303)
    return _search_page(request, Told(screen=screen, tried=tried), serial)


def _searching(sent: Given) -> Any:
    if sent.text("act") == "find":
        return FindAgain(serial=sent.text("serial"), where=sent.text("where"), key=_key(sent))
    return Seek(serial=sent.text("serial"), reason=sent.text("reason"), key=_key(sent))


def _search_page(request: Request, told: Told, serial: str | None) -> Response:
    screen, trail = told.screen, None
    with screen.ledger.read(screen.site) as read:
        try:
            trail = read_trail(read, serial) if serial else None
        except (Missing, Refused) as error:
            given = Given(fields={"serial": [serial or ""]}, files={})
            told = Told(
                screen=screen, tried=Tried(title=N_("Not found"), error=error, given=given)
            )
        rows, now_us = open_searches(read), read.now_us
    return page(
        request,
        "floor/search.html",
        status=told.status,
        told=told,
        screen=screen,
        trail=trail,
        rows=rows,
        zone=screen.zone,
        now_us=now_us,
        serial=trail.part.serial if trail else "",
        then="search",
    )


@router.get("/floor/priority", name="floor.priority")
def priority(request: Request, screen: AtScreen, serial: str | None = None) -> Response:
    """Let a part go first, or as it comes."""
    return _priority_page(request, Told(screen=screen), serial)


@router.post("/floor/priority", name="floor.prioritise")
def prioritise(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Book the priority of a part."""
    tried = _try(screen, sent, _prioritising, N_("Priority not changed"))
    serial = sent.text("serial")
    if tried is None:
        return RedirectResponse(path_for(request, "floor.priority", serial=serial), 303)
    return _priority_page(request, Told(screen=screen, tried=tried), serial)


def _prioritising(sent: Given) -> Prioritise:
    return Prioritise(
        serial=sent.text("serial"),
        rank=sent.whole("rank") or 0,
        reason=sent.text("reason"),
        seen=sent.whole("seen"),
        key=_key(sent),
    )


def _priority_page(request: Request, told: Told, serial: str | None) -> Response:
    part = None
    if serial:
        with told.screen.ledger.read(told.screen.site) as read:
            part = read_part(read, serial)
    return page(
        request,
        "floor/priority.html",
        status=told.status,
        told=told,
        screen=told.screen,
        part=part,
        serial=serial or "",
        then="priority",
    )


def _key(sent: Given) -> str:
    key = sent.text("key")
    if not key:
        raise Refused("the form carried no key; open the page again")
    return key


def _try(screen: Screen, sent: Given, make: Any, title: str) -> Tried | None:
    """Try one act; None when it was booked."""
    try:
        screen.ledger.execute(screen.site, make(sent), screen.actor)
    except RingwrightError as error:
        return Tried(title=title, error=error, given=sent)
    return None
