"""Walls: which case is thin, where, or will be after the last cut; plans and readings."""

from __future__ import annotations

from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.flow.moment import past_us
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.ledger.drawn import snapshot_of
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.routecards.queries import read_revisions
from ringwright.sites.queries import when_at
from ringwright.wallmaps.board import (
    ALL,
    IN_WORK,
    SHOWN,
    CaseBoard,
    WallsBoard,
    read_case,
    read_walls,
)
from ringwright.wallmaps.drawing import draw_margins, draw_wall
from ringwright.wallmaps.queries import plan_in_force, read_plans
from ringwright.wallmaps.service import SetWallPlan, WithdrawWall
from ringwright.wallmaps.sheets import POINTS_SHOWN, WallSheets
from ringwright.wallmaps.upload import Looked, keeping, look_at
from ringwright.wallmaps.words import METHOD_WORDS, WallWords
from ringwright.walls.plan import WallPlan
from ringwright.walls.reading import COLUMNS, LENGTHS, UNITS
from ringwright.walls.toml import parse_plan, plan_text

router = APIRouter(include_in_schema=False)

PLAN_BYTES: Final = 200_000
BAD_SHOWN: Final = 50
SCOPES: Final = ((IN_WORK, N_("in work")), (ALL, N_("all that were read")))


@router.get("/case/walls", name="wallmaps.board")
def board(request: Request, screen: AtScreen) -> Response:
    """Which case's wall is thin, or will be after the last cut?"""
    found = _board(request, screen)
    sheets = _sheets(request, screen)
    return page(
        request,
        "wallmaps/board.html",
        screen=screen,
        board=found,
        question=sheets.question(),
        answer=sheets.told.board_answer(found),
        cases=sheets.cases(found, SHOWN),
        rulers=draw_margins(found),
        scopes=SCOPES,
        zone=screen.zone,
        as_of=_as_of(request),
    )


@router.get("/case/walls/file.{form}", name="wallmaps.file")
def board_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """Every case with its thinnest place, as a file."""
    book = _sheets(request, screen).board_book(_board(request, screen))
    return file_answer(request, book, form, sheet)


@router.get("/case/walls/plans/{product}", name="wallmaps.plan")
def plan(
    request: Request, screen: AtScreen, product: str, revision: str | None = None
) -> Response:
    """How is the wall of this product read and judged?"""
    return _plan(request, screen, (product, revision), None)


@router.post("/case/walls/plans/{product}", name="wallmaps.set_plan")
def set_plan(request: Request, screen: AtScreen, product: str, sent: Sent) -> Response:
    """Load a wall plan or a revision of one."""
    do = partial(_set_plan, product=product)
    tried = attempt(screen, sent, N_("Wall plan not kept"), do)
    if tried is not None:
        return _plan(request, screen, (product, None), tried)
    return RedirectResponse(path_for(request, "wallmaps.plan", product=product), 303)


@router.get("/case/walls/{serial:path}/file.{form}", name="wallmaps.case_file")
def case_file(
    request: Request, screen: AtScreen, serial: str, form: str, sheet: str | None = None
) -> Response:
    """The readings of one case and what they say, as a file."""
    book = _sheets(request, screen).case_book(_case(request, screen, serial))
    return file_answer(request, book, form, sheet)


@router.post("/case/walls/{serial:path}/readings", name="wallmaps.upload")
def upload(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Look at a file of readings; keep it when told to."""
    looked, trouble = None, None
    try:
        with screen.ledger.read(screen.site) as read:
            found = read_case(read, serial)
            looked = look_at(read, found, sent)
        if sent.text("act") == "keep":
            bears = found.part.mark or found.part.serial
            command = keeping(looked, bears, key_of(sent), screen.station_code)
            screen.ledger.execute(screen.site, command, screen.actor)
            return RedirectResponse(path_for(request, "wallmaps.case", serial=serial), 303)
    except RingwrightError as error:
        trouble = error
    return _looked(request, screen, serial, (sent, looked, trouble))


@router.post("/case/walls/{serial:path}/withdraw", name="wallmaps.withdraw")
def withdraw(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """A set of readings does not count any more."""
    tried = attempt(screen, sent, N_("Not withdrawn"), partial(_withdraw, serial=serial))
    if tried is not None:
        return _drawn(request, screen, serial, tried)
    return RedirectResponse(path_for(request, "wallmaps.case", serial=serial), 303)


@router.get("/case/walls/{serial:path}", name="wallmaps.case")
def case(request: Request, screen: AtScreen, serial: str) -> Response:
    """Where is the wall of this case thinnest, and will it do?"""
    return _drawn(request, screen, serial, None)


def _set_plan(screen: Screen, sent: Given, *, product: str) -> object:
    found = parse_plan(_text(sent))
    if found.product != product:
        raise Refused(f"the file is the plan of {found.product}, not of {product[:60]}")
    command = SetWallPlan(plan=found, reason=sent.text("reason"), key=key_of(sent))
    return screen.ledger.execute(screen.site, command, screen.actor)


def _text(sent: Given) -> str:
    file = sent.files.get("file")
    if file is not None and file.content:
        return file.text(PLAN_BYTES, ("toml", "txt"))
    if not sent.text("plan"):
        raise Refused("choose a plan file, or type the plan")
    return sent.text("plan")


def _withdraw(screen: Screen, sent: Given, *, serial: str) -> object:
    entry = sent.whole("entry")
    if entry is None:
        raise Refused("choose which set of readings")
    command = WithdrawWall(
        serial=serial, entry=entry, reason=sent.text("reason"), key=key_of(sent)
    )
    return screen.ledger.execute(screen.site, command, screen.actor)


def _as_of(request: Request) -> str | None:
    return request.query_params.get("as_of") or None


def _sheets(request: Request, screen: Screen) -> WallSheets:
    told = WallWords(words_for(request), figures_for(request), screen.zone)
    return WallSheets(told, partial(path_for, request, as_of=_as_of(request)))


def _board(request: Request, screen: Screen) -> WallsBoard:
    asked = request.query_params
    scope = asked.get("cases") or IN_WORK
    if scope not in (IN_WORK, ALL):
        raise Refused("choose the cases in work, or all")
    at_us = past_us(screen.ledger, screen.site, _as_of(request))
    with screen.ledger.read(screen.site, at_us) as read:
        return read_walls(read, asked.get("product") or "", scope)


def _case(request: Request, screen: Screen, serial: str) -> CaseBoard:
    text = request.query_params.get("step") or ""
    if text and not (text.isascii() and text.isdigit() and len(text) < 9):
        raise Refused(f"step {text[:20]!r} is no whole number")
    at_us = past_us(screen.ledger, screen.site, _as_of(request))
    with screen.ledger.read(screen.site, at_us) as read:
        return read_case(read, serial, int(text) if text else None)


def _drawn(request: Request, screen: Screen, serial: str, tried: Tried | None) -> Response:
    found = _case(request, screen, serial)
    sheets, line = _sheets(request, screen), found.line
    shown: dict[str, Any] = {}
    if line is not None:
        shown = {
            "drawn": draw_wall(line, found.readings),
            "zones": sheets.zones(line),
            "points": sheets.points(line, POINTS_SHOWN),
            "ahead": sheets.expected(line, POINTS_SHOWN) if line.cuts_left else None,
            "trend": sheets.trend(found),
            "rounds": sheets.rounds(found),
        }
    return page(
        request,
        "wallmaps/case.html",
        status=tried.status if tried else 200,
        screen=screen,
        board=found,
        told=sheets.told,
        question=sheets.case_question(),
        answer=sheets.told.case_answer(found),
        shift=sheets.told.shift(found),
        stop_text=sheets.told.stop_text(found),
        sets=sheets.sets(found),
        methods=METHOD_WORDS,
        zone=screen.zone,
        as_of=_as_of(request),
        tried=tried,
        given=tried.given if tried else NOTHING,
        key=new_key(),
        **shown,
    )


def _looked(
    request: Request,
    screen: Screen,
    serial: str,
    step: tuple[Given, Looked | None, RingwrightError | None],
) -> Response:
    given, looked, trouble = step
    with screen.ledger.read(screen.site) as read:
        found = read_case(read, serial)
    return page(
        request,
        "wallmaps/readings.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        board=found,
        looked=looked,
        given=given,
        trouble=trouble,
        told=_sheets(request, screen).told,
        columns=COLUMNS,
        lengths=LENGTHS,
        units=tuple(UNITS),
        methods=METHOD_WORDS,
        bad_shown=BAD_SHOWN,
        key=new_key(),
    )


def _plan(
    request: Request, screen: Screen, asked: tuple[str, str | None], tried: Tried | None
) -> Response:
    product, revision = asked
    at_us = past_us(screen.ledger, screen.site, _as_of(request))
    with screen.ledger.read(screen.site, at_us) as read:
        if not read_revisions(read.connection, read.site.id, product):
            raise Missing(f"there is no product {product[:60]}")
        plans = read_plans(read, product).get(product, [])
        now = plan_in_force(plans, when_at(read.now_us, read.site.zone).day)
        drawn = snapshot_of(read, to_the_minute=True)
    known: dict[str, WallPlan] = {one.plan.revision: one.plan for one in plans}
    if revision is not None and revision not in known:
        raise Missing(f"{product[:60]} has no wall plan revision {revision[:60]}")
    found = known[revision] if revision is not None else now
    sheets = _sheets(request, screen)
    given = tried.given if tried else NOTHING
    return page(
        request,
        "wallmaps/plan.html",
        status=tried.status if tried else 200,
        screen=screen,
        product=product,
        plan=found,
        in_force=now,
        plans=plans,
        zones=sheets.plan(found) if found else None,
        text=given.text("plan") or (plan_text(found) if found else ""),
        drawn=drawn,
        zone=screen.zone,
        as_of=_as_of(request),
        tried=tried,
        given=given,
        key=new_key(),
    )
