"""Swarf containers: which are here, what is in them, and the acts at them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.flow.moment import past_us
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.scanned import scanned_text
from ringwright.kit.typed import parse_figure, parse_whole
from ringwright.material.service import (
    ActOnContainer,
    AddSwarf,
    CorrectContainer,
    OpenContainer,
)
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.swarf.container_sheets import ROW, ContainerLists
from ringwright.swarf.containers import read_container_sheet, read_containers_sheet
from ringwright.swarf.forms import share, typed_mass
from ringwright.swarf.words import CAUTION, KINDS, USES

router = APIRouter(include_in_schema=False)
MIXED: Final = "-"
"""What a form says for a container of mixed swarf; no alloy's code begins so."""


@router.get("/case/containers", name="swarf.containers")
def containers(request: Request, screen: AtScreen) -> Response:
    """Where is our swarf, and is it clean?"""
    return _containers(request, screen, None)


@router.get("/case/containers/file.{form}", name="swarf.containers_file")
def containers_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The containers as a file."""
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found = read_containers_sheet(read)
    return file_answer(request, _lists(request, screen).containers_book(found), form, sheet)


@router.post("/case/containers", name="swarf.containers_act")
def containers_act(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Open a container, or put swarf into one."""
    answers: list[Any] = []
    tried = _tried(screen, sent, "", answers)
    if tried is not None:
        return _containers(request, screen, tried)
    told = {"done": answers[0]["container"], "kg": str(answers[0].get("net_kg", ""))}
    told["scale"] = scanned_text(sent.text("gauge"))
    return RedirectResponse(path_for(request, "swarf.containers", **told), 303)


@router.get("/case/containers/{container}", name="swarf.container")
def container(request: Request, screen: AtScreen, container: str) -> Response:
    """What is in this container, and where does it go?"""
    return _container(request, screen, container, None)


@router.get("/case/containers/{container}/file.{form}", name="swarf.container_file")
def container_file(
    request: Request, screen: AtScreen, container: str, form: str, sheet: str | None = None
) -> Response:
    """One container as a file."""
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found = read_container_sheet(read, container)
    return file_answer(request, _lists(request, screen).container_book(found), form, sheet)


@router.post("/case/containers/{container}", name="swarf.container_act")
def container_act(request: Request, screen: AtScreen, container: str, sent: Sent) -> Response:
    """Weigh, seal, send it, call it mixed, take it back as a lot, correct an entry."""
    tried = _tried(screen, sent, container, [])
    if tried is not None:
        return _container(request, screen, container, tried)
    return RedirectResponse(path_for(request, "swarf.container", container=container), 303)


def _tried(screen: Screen, sent: Given, code: str, answers: list[Any]) -> Tried | None:
    act = sent.text("act")

    def do(screen: Screen, sent: Given) -> object:
        making = _ACTS.get(act)
        if making is None:
            raise Refused("that act is not known here; open the page again")
        command = making(code, sent)
        answers.append(screen.ledger.execute(screen.site, command, screen.actor))
        return answers

    return attempt(screen, sent, _TITLES.get(act, N_("Not done")), do)


def _open(_code: str, sent: Given) -> OpenContainer:
    return OpenContainer(
        alloy=_alloy(sent.text("alloy")),
        swarf=sent.text("swarf"),
        tare=typed_mass(sent, "tare"),
        place=sent.text("place"),
        moisture=share(sent, "moisture"),
        moisture_u=share(sent, "moisture_u"),
        code=scanned_text(sent.text("code")),
        key=key_of(sent),
    )


def _alloy(chosen: str) -> str:
    if not chosen:
        raise Refused("choose the alloy it is for, or mixed")
    return "" if chosen == MIXED else chosen


def _add(_code: str, sent: Given) -> AddSwarf:
    step = sent.text("step")
    return AddSwarf(
        container=scanned_text(sent.text("container")),
        serial=scanned_text(sent.text("part")),
        net=typed_mass(sent, "mass"),
        step=parse_whole(step, "step") if step else None,
        wet=sent.text("wet") != "no",
        key=key_of(sent),
    )


def _act(code: str, sent: Given) -> ActOnContainer:
    act = sent.text("act")
    return ActOnContainer(
        container=code,
        act=act,
        full=typed_mass(sent, "mass") if act == "weigh" else None,
        to=sent.text("to"),
        paper=sent.text("paper"),
        melts=sent.text("melts") == "yes",
        lot=scanned_text(sent.text("lot")),
        reason=sent.text("reason"),
        key=key_of(sent),
    )


def _correct(code: str, sent: Given) -> CorrectContainer:
    right = sent.text("right")
    return CorrectContainer(
        container=code,
        entry=parse_whole(sent.text("entry"), "entry"),
        reason=sent.text("reason"),
        kg=parse_figure(right, "the right mass") if right else None,
        key=key_of(sent),
    )


_ACTS: Final[dict[str, Callable[[str, Given], Any]]] = {
    "open": _open,
    "add": _add,
    "weigh": _act,
    "seal": _act,
    "mixed": _act,
    "send": _act,
    "return": _act,
    "correct": _correct,
}
_TITLES: Final = {
    "open": N_("Container not opened"),
    "add": N_("Swarf not booked"),
    "correct": N_("Not corrected"),
}


def _past(request: Request, screen: Screen) -> int | None:
    return past_us(screen.ledger, screen.site, request.query_params.get("as_of"))


def _lists(request: Request, screen: Screen) -> ContainerLists:
    link = partial(path_for, request)
    return ContainerLists(words_for(request), figures_for(request), link, screen.zone)


def _shown(request: Request, screen: Screen, tried: Tried | None) -> dict[str, Any]:
    return {
        "screen": screen,
        "as_of": request.query_params.get("as_of") or None,
        "tried": tried,
        "given": tried.given if tried else NOTHING,
        "key": new_key(),
        "kinds": KINDS,
        "uses": USES,
        "caution": words_for(request)._(CAUTION),
    }


def _booked(request: Request, lists: ContainerLists) -> str:
    """The mass that was just booked, as the address has it; empty where it is no figure."""
    try:
        return lists.told.kg(parse_figure(request.query_params.get("kg") or "", "kg"))
    except Refused:
        return ""


def _containers(request: Request, screen: Screen, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found = read_containers_sheet(read)
    lists, _ = _lists(request, screen), words_for(request)._
    bars = lists.bars(found)
    return page(
        request,
        "swarf/containers.html",
        status=tried.status if tried else 200,
        sheet=found,
        answer=lists.containers_answer(found),
        bars=bars,
        height=ROW * len(bars),
        here=lists.containers("here", _("Containers here"), found.here),
        gone=lists.containers("gone", _("Left in the last eight weeks"), found.gone),
        done=request.query_params.get("done") or "",
        scale=request.query_params.get("scale") or "",
        done_kg=_booked(request, lists),
        told=lists.told,
        **_shown(request, screen, tried),
    )


def _container(request: Request, screen: Screen, code: str, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found = read_container_sheet(read, code)
    lists = _lists(request, screen)
    return page(
        request,
        "swarf/container.html",
        status=tried.status if tried else 200,
        sheet=found,
        one=found.held.container,
        answer=lists.container_answer(found),
        contents=lists.contents(found),
        entries=lists.entries(found),
        went=lists.went(found.went),
        told=lists.told,
        **_shown(request, screen, tried),
    )
