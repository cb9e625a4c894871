"""Authorisations of people: what lapses, what is held, grant one, withdraw one."""

from __future__ import annotations

from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.authorisation import LEVELS, NDT_METHODS
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.ground.authorisations import (
    AuthorisationList,
    read_authorisations,
)
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.sites.authorising import Authorise, Withdraw
from ringwright.sites.site import Authorisation

router = APIRouter(include_in_schema=False)


@router.get("/ground/authorisations", name="ground.authorisations")
def authorisations(request: Request, screen: AtScreen) -> Response:
    """Who is authorised for what, and what is about to lapse."""
    return _page(request, screen, None)


@router.get("/ground/authorisations/file.{form}", name="ground.authorisations_file")
def authorisations_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The lists as a file to keep."""
    with screen.ledger.read(screen.site) as read:
        found = read_authorisations(read)
    return file_answer(request, _list(request).book(found), form, sheet)


@router.post("/ground/authorisations", name="ground.authorise")
def authorise(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Grant a person an authorisation."""
    return _tried(request, screen, sent)


@router.post("/ground/withdrawals", name="ground.withdraw")
def withdraw(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Withdraw an authorisation, with the reason."""
    return _tried(request, screen, sent)


def _tried(request: Request, screen: Screen, sent: Given) -> Response:
    gives = sent.text("act") != "withdraw"
    title = N_("Not granted") if gives else N_("Not withdrawn")
    tried = attempt(screen, sent, title, _grant if gives else _withdraw)
    if tried is None:
        return RedirectResponse(path_for(request, "ground.authorisations"), 303)
    return _page(request, screen, tried)


def _grant(screen: Screen, sent: Given) -> object:
    paper = Authorisation(
        person=sent.text("person"),
        method=sent.text("method"),
        level=sent.whole("level") or 0,
        valid_from=sent.text("valid_from"),
        valid_to=sent.text("valid_to"),
        eyesight_to=sent.text("eyesight_to") or None,
        certificate=sent.text("certificate"),
        scope=sent.text("scope"),
    )
    command = Authorise(paper=paper, key=key_of(sent))
    return screen.ledger.execute(screen.site, command, screen.actor)


def _withdraw(screen: Screen, sent: Given) -> object:
    person, slash, method = sent.text("which").rpartition("/")
    if not slash:
        raise Refused("choose which authorisation is withdrawn")
    command = Withdraw(
        person=person, method=method, reason=sent.text("reason"), key=key_of(sent)
    )
    return screen.ledger.execute(screen.site, command, screen.actor)


def _list(request: Request) -> AuthorisationList:
    link = partial(path_for, request)
    return AuthorisationList(words_for(request), figures_for(request), link)


def _page(request: Request, screen: Screen, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = read_authorisations(read)
    lists = _list(request)
    return page(
        request,
        "ground/authorisations.html",
        status=tried.status if tried else 200,
        screen=screen,
        found=found,
        answer=lists.answer(found),
        lapsing=lists.lapsing(found),
        held=lists.held(found),
        tried=tried,
        given=tried.given if tried else Given(fields={}, files={}),
        key=new_key(),
        levels=LEVELS,
        methods=NDT_METHODS,
        zone=screen.zone,
    )
