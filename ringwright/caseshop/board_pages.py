"""The planner's board: the plan kept, a proposal, a change looked at before it is kept."""

from __future__ import annotations

import json
from functools import partial
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.caseshop.board import (
    Asked,
    Board,
    Line,
    placements_of,
    read_case_board,
)
from ringwright.caseshop.lists import CaseLists
from ringwright.caseshop.ruler import Placing, Ruler, Week
from ringwright.core.calendar import iso_text, parse_instant
from ringwright.core.errors import Refused, RingwrightError
from ringwright.core.fields import as_data
from ringwright.core.glossary import N_
from ringwright.flow.moment import to_the_minute
from ringwright.heatruns.week_ruler import draw_axis
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.machines.card import Placed
from ringwright.machines.service import ChangePlacement, KeepPlan
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of

router = APIRouter(include_in_schema=False)
MINUTE_US: Final = 60_000_000
DAYS_US: Final = 14 * 24 * 60 * MINUTE_US
"""How much of the plan the rulers of the board show."""
NUDGES: Final = (-60, -15, 15, 60)
"""Minutes that the buttons move a start by."""
TITLES: Final = {"keep": N_("Plan not kept"), "change": N_("Change not kept")}


@router.get("/case/board", name="caseshop.board")
def board(request: Request, screen: AtScreen) -> Response:
    """In which order do the cases go on which machine, and what would a change do?"""
    given = Given(fields={k: [v] for k, v in request.query_params.items()}, files={})
    return _page(request, screen, given, None)


@router.get("/case/board/file.{form}", name="caseshop.board_file")
def board_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The plan as a file to keep."""
    with screen.ledger.read(screen.site) as read:
        found = read_case_board(to_the_minute(read), Asked())
    lists = _lists(request, screen)
    answer = "".join(piece.text for piece in lists.told.board(found))
    question = lists.words._("In which order do the cases go on which machine?")
    book = lists.book("board", question, found.drawn, answer, lists.placements(found))
    return file_answer(request, book, form, sheet)


@router.post("/case/board", name="caseshop.board_act")
def act(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Keep a plan, or one change of it."""

    def do(screen: Screen, given: Given) -> object:
        command = _keep(given) if given.text("act") == "keep" else _changed(screen, given)
        return screen.ledger.execute(screen.site, command, screen.actor)

    tried = attempt(screen, sent, TITLES.get(sent.text("act"), N_("Not done")), do)
    if tried is not None:
        return _page(request, screen, sent, tried)
    return RedirectResponse(path_for(request, "caseshop.board"), 303)


def _keep(given: Given) -> KeepPlan:
    try:
        told = json.loads(given.text("plan"))
        placements = tuple(Placed(**one) for one in told)
        sound = all(_is_sound(one) for one in placements)
    except (TypeError, ValueError):
        sound = False
    if not sound:
        raise Refused("the plan came in pieces; ask for the proposal again")
    return KeepPlan(
        placements=placements,
        seen=_seen(given),
        proposed=True,
        reason=given.text("reason"),
        key=key_of(given),
    )


def _is_sound(one: Placed) -> bool:
    numbers = all(type(value) is int for value in (one.step, one.start_us))
    texts = all(isinstance(value, str) for value in (one.serial, one.machine))
    return numbers and texts and isinstance(one.locked, bool)


def _changed(screen: Screen, given: Given) -> ChangePlacement:
    asked = _asked(screen, given)
    if asked.start_us is None:
        raise Refused("say when it begins (start), such as 2026-12-01T06:00")
    return ChangePlacement(
        placement=Placed(
            serial=asked.serial, step=asked.step, machine=asked.machine,
            start_us=asked.start_us, locked=asked.locked,
        ),
        seen=_seen(given),
        reason=given.text("reason"),
        key=key_of(given),
    )  # fmt: skip


def _seen(given: Given) -> int:
    seen = given.text("seen")
    if not seen.isascii() or not seen.isdigit() or len(seen) > 15:
        raise Refused("the form did not say which plan it was made from; open the page again")
    return int(seen)


def _asked(screen: Screen, given: Given) -> Asked:
    """What the address or the form asks; a nudge moves the start by minutes."""
    step, start = given.text("step"), given.text("start")
    start_us = None
    if start:
        try:
            start_us = parse_instant(start, screen.zone)
        except ValueError as trouble:
            raise Refused(f"start: {trouble}") from None
    nudge = given.text("nudge")
    if start_us is not None and nudge:
        if nudge not in {str(one) for one in NUDGES}:
            raise Refused("the start moves by a quarter of an hour or an hour")
        start_us += int(nudge) * MINUTE_US
    asks = step.isascii() and step.isdigit() and len(step) < 9
    return Asked(
        proposal=given.text("show") == "proposal",
        serial=given.text("serial") if asks else "",
        step=int(step) if asks else 0,
        machine=given.text("machine"),
        start_us=start_us,
        locked=given.text("lock") != "no",
    )


def _lists(request: Request, screen: Screen) -> CaseLists:
    link = partial(path_for, request)
    return CaseLists(words_for(request), figures_for(request), link, screen.zone)


def _page(request: Request, screen: Screen, given: Given, tried: Tried | None) -> Response:
    trouble: RingwrightError | None = tried.error if tried else None
    with screen.ledger.read(screen.site) as snapshot:
        read = to_the_minute(snapshot)
        try:
            found = read_case_board(read, _asked(screen, given))
        except RingwrightError as error:
            trouble = trouble or error
            found = read_case_board(read, Asked())
    if trouble is not None and tried is None:
        title = N_("That change cannot be looked at")
        tried = Tried(act="change", title=title, error=trouble, given=given)
    lists = _lists(request, screen)
    now_us = found.desk.origin_us
    plan = [as_data(one) for one in placements_of(found)] if found.proposed else []
    return page(
        request,
        "caseshop/board.html",
        status=tried.status if tried else 200,
        board=found,
        told=lists.told,
        answer=lists.told.board(found),
        axis=draw_axis(now_us, now_us + DAYS_US, now_us, screen.zone),
        rulers=_rulers(found),
        figures=lists.placements(found),
        change=_form(found, screen),
        nudges=NUDGES,
        plan=json.dumps(plan, ensure_ascii=False),
        screen=screen,
        zone=screen.zone,
        tried=tried,
        given=given,
        key=new_key(),
    )


def _form(board: Board, screen: Screen) -> dict[str, object] | None:
    """The fields of the change that is looked at."""
    change = board.change
    if change is None:
        return None
    operation = board.desk.shop.operations[change.key]
    return {
        "serial": change.key[0],
        "step": change.key[1],
        "machine": change.machine,
        "machines": operation.machines,
        "start": iso_text(board.desk.us(change.start), screen.zone)[:16],
        "locked": change.locked,
        "possible": board.effect is None or change.key not in board.effect.missed,
    }


def _rulers(board: Board) -> list[tuple[str, Ruler, list[Line]]]:
    """One ruler a machine, from now on."""
    start_us = board.desk.origin_us
    week = Week(start_us, start_us + DAYS_US)
    found = []
    for machine in board.desk.shop.machines:
        lines = [one for one in board.lines if one.placement.machine == machine.code]
        on = [_placing(one) for one in lines if one.on]
        coming = [_placing(one) for one in lines if not one.on]
        working = [
            (board.desk.us(begin), min(board.desk.us(end), week.end_us))
            for begin, end in machine.open
            if board.desk.us(begin) < week.end_us
        ]
        found.append((machine.code, week.ruler(on, [], coming, working), lines))
    return found


def _placing(one: Line) -> Placing:
    return Placing(
        label=one.placement.serial, begin_us=one.start_us, end_us=one.end_us,
        held=one.placement.locked,
    )  # fmt: skip
