"""Traceability: what a suspect touched, and the one act that contains it."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.forms import Sent
from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.people.screen import AtScreen, Screen
from ringwright.trace import containment_pages, part_pages
from ringwright.trace.asking import SINCE, asked_of, question_of, settled
from ringwright.trace.board import Drawing, ptag_of
from ringwright.trace.chooser import Chooser, read_chooser
from ringwright.trace.preview import Preview, preview_of, sent_plans
from ringwright.trace.question import KINDS, Question
from ringwright.trace.service import Contain
from ringwright.trace.touched import read_touched

router = APIRouter(include_in_schema=False)


@router.get("/trace", name="trace.touched")
def touched(request: Request, screen: AtScreen) -> Response:
    """What did it touch, and where is it now? Without a suspect, the page helps to name one."""
    asked = asked_of(request)
    try:
        moved = settled(asked, screen.ledger.clock.now_us(), screen.zone)
        question = question_of(asked, screen.zone)
        if moved is not None:
            return RedirectResponse(path_for(request, "trace.touched", **moved), 303)
        if question is None:
            return _choosing(request, screen, asked)
        return _unchanged(request, screen) or _shown(request, screen, question, asked)
    except (Refused, Missing) as trouble:
        return _choosing(request, screen, asked, trouble)


@router.get("/trace/file.{form}", name="trace.file")
def touched_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The whole list and the figures of the picture as a file."""
    asked = asked_of(request)
    question = question_of(asked, screen.zone)
    if question is None:
        raise Refused("say what is suspect, then ask for the file")
    drawing = _drawing(request, screen, question, asked)
    return file_answer(request, drawing.book(), form, sheet)


@router.get("/trace/contain", name="trace.preview")
def preview(request: Request, screen: AtScreen) -> Response:
    """What containing would do, part by part, before anything is done."""
    question = question_of(asked_of(request), screen.zone)
    if question is None:
        return _choosing(request, screen, asked_of(request))
    return _previewed(request, screen, preview_of(screen, question))


@router.post("/trace/contain", name="trace.contain")
def contain(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Contain what the person saw; refused, the preview is drawn anew and says why."""
    question = _needed(request, screen)
    reason, key = sent.text("reason"), sent.text("key") or None
    try:
        plans = sent_plans(sent.text("plans"))
        command = Contain(key=key, reason=reason, question=question, plans=plans)
        answer = screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        shown = preview_of(screen, question, reason=reason, seen=sent.text("plans"))
        return _previewed(request, screen, shown, trouble)
    code = answer["containment"]
    return RedirectResponse(path_for(request, "trace.containment", code=code, done="made"), 303)


def _needed(request: Request, screen: Screen) -> Question:
    question = question_of(asked_of(request), screen.zone)
    if question is None:
        raise Refused("say what is suspect first")
    return question


def _choosing(
    request: Request,
    screen: Screen,
    asked: dict[str, str],
    trouble: RingwrightError | None = None,
) -> Response:
    with screen.ledger.read(screen.site) as read:
        chooser: Chooser = read_chooser(read, asked)
    return page(
        request,
        "trace/choose.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        chooser=chooser,
        asked={**dict.fromkeys((*KINDS, "since", "from", "to"), ""), **asked},
        why=trouble.message if trouble else "",
        since=SINCE,
    )


def _unchanged(request: Request, screen: Screen) -> Response | None:
    """An empty answer for a panel that shows the newest entry and this minute already."""
    if not wants_fragment(request) or "HX-PTag" not in request.headers:
        return None
    seq, _ = screen.ledger.head(screen.site)
    same = request.headers["HX-PTag"] == ptag_of(seq, screen.ledger.clock.now_us())
    return Response(status_code=304) if same else None


def _drawing(
    request: Request, screen: Screen, question: Question, asked: dict[str, str]
) -> Drawing:
    at_us = past_us(screen.ledger, screen.site, asked.get("as_of", ""))
    with screen.ledger.read(screen.site, at_us) as snapshot:
        found = read_touched(to_the_minute(snapshot), question)
    words, show = words_for(request), figures_for(request)
    return Drawing(found, words, show, lambda route, **v: path_for(request, route, **v))


def _shown(
    request: Request, screen: Screen, question: Question, asked: dict[str, str]
) -> Response:
    board = _drawing(request, screen, question, asked).board()
    shown: dict[str, Any] = {
        "board": board,
        "screen": screen,
        "as_of": asked.get("as_of") or None,
        "asked": question.address(screen.zone),
    }
    if wants_fragment(request):
        answer = fragment(request, "trace/_touched.html", **shown)
        answer.headers["HX-PTag"] = board.ptag
        return answer
    return page(request, "trace/touched.html", **shown)


def _previewed(
    request: Request,
    screen: Screen,
    shown: Preview,
    trouble: RingwrightError | None = None,
) -> Response:
    words, show = words_for(request), figures_for(request)
    return page(
        request,
        "trace/preview.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        preview=shown,
        told=shown.told(words, show),
        figures=shown.sheet(words, show),
        asked=shown.touched.question.address(screen.zone),
        why=trouble.message if trouble else "",
    )


router.routes.extend(containment_pages.router.routes)
router.routes.extend(part_pages.router.routes)
