"""One set: its page, hand over, give back, send, fit by scan, mend, correct, print; rotors."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.cutoff import cut_off
from ringwright.kit.datamatrix import blade_mark
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.ledger.drawn import snapshot_of
from ringwright.people.screen import AtScreen, Screen
from ringwright.sets import rotor_pages
from ringwright.sets.building import Fit, HandOver, PlaceWeights, SendSet, TakeOut
from ringwright.sets.correcting import correction_of, weights_sent
from ringwright.sets.fitting import next_slot, scan_of
from ringwright.sets.forms import Tried
from ringwright.sets.lacking import lacking_sets
from ringwright.sets.mending import mending_of
from ringwright.sets.queries import read_sets
from ringwright.sets.rules import SENT, BladeSet
from ringwright.sets.service import GiveBack, Mend
from ringwright.sets.set_board import FACTS, STATES, Boards
from ringwright.sets.set_model import SetSheet, read_set_sheet
from ringwright.sets.stock import read_stock

router = APIRouter(include_in_schema=False)


@router.get("/sets/reserved", name="sets.reserved")
def reserved(request: Request, screen: AtScreen) -> Response:
    """Which sets are there, and how far is each?"""
    product = request.query_params.get("product") or None
    at_us = past_us(screen.ledger, screen.site, request.query_params.get("as_of"))
    with screen.ledger.read(screen.site, at_us) as read:
        minute = to_the_minute(read)
        sets, snapshot = read_sets(minute, product), snapshot_of(minute)
        lacking = {one.code: len(one.slots) for one in lacking_sets(minute, sets)}
    sets = tuple(sorted(sets, key=lambda one: _urgency(one, lacking)))
    return page(
        request,
        "sets/reserved.html",
        sets=sets,
        lacking=lacking,
        snapshot=snapshot,
        product=product,
        states=STATES,
        foot=cut_off(snapshot, words_for(request), figures_for(request)),
    )


def _urgency(found: BladeSet, lacking: Mapping[str, int]) -> int:
    """What lacks a blade goes first, then what is on its way, then what is over."""
    if found.code in lacking:
        return 0
    return 1 if found.holding and found.state != SENT else 2


@router.get("/sets/{set_code:path}/file.{form}", name="sets.set_file")
def set_file(
    request: Request, screen: AtScreen, set_code: str, form: str, sheet: str | None = None
) -> Response:
    """The set slot by slot, as a file."""
    board = _boards(request, _sheet(request, screen, set_code)).board()
    return file_answer(request, board.book, form, sheet)


@router.get("/sets/{set_code:path}/sheet", name="sets.sheet")
def sheet_to_print(request: Request, screen: AtScreen, set_code: str) -> Response:
    """The assembly sheet, to be printed and signed."""
    return _drawn(request, screen, set_code, "sets/sheet.html", mark_of=blade_mark)


@router.get("/sets/{set_code:path}/fit", name="sets.fit")
def fit(request: Request, screen: AtScreen, set_code: str) -> Response:
    """Which blade goes into which slot, as it is scanned?"""
    return _of_the_past(request, set_code) or _fitting(request, screen, set_code)


@router.post("/sets/{set_code:path}/fit", name="sets.fit_act")
def fit_act(request: Request, screen: AtScreen, set_code: str, sent: Sent) -> Response:
    """Record the blade that was scanned in the slot that was due, or go to another slot."""
    try:
        found = _sheet(request, screen, set_code).found
        scan = scan_of(found, sent.text("scan"))
        slot = sent.whole("slot")
        if not sent.text("scan") or scan.slot is not None:
            return _onward(request, "sets.fit", set_code, slot=scan.slot)
        if slot is None:
            raise Refused("the form does not say which slot; open the page again")
        command = Fit(key=sent.text("key") or None, set=set_code, slot=slot, serial=scan.serial)
        told = screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        return _fitting(request, screen, set_code, Tried(title=N_("Not fitted"), error=trouble))
    return _onward(request, "sets.fit", set_code, done=told["serial"], at=told["slot"])


@router.post("/sets/{set_code:path}/take-out", name="sets.take_out")
def take_out(request: Request, screen: AtScreen, set_code: str, sent: Sent) -> Response:
    """Record a blade as taken out of its slot."""
    slot, _, serial = sent.text("stands").partition("=")
    try:
        command = TakeOut(
            key=sent.text("key") or None,
            set=set_code,
            slot=int(slot) if slot.isascii() and slot.isdigit() else 0,
            serial=serial,
            reason=sent.text("reason"),
        )
        screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        tried = Tried(title=N_("Not taken out"), error=trouble)
        return _fitting(request, screen, set_code, tried)
    return _onward(request, "sets.fit", set_code, slot=slot)


@router.get("/sets/{set_code:path}/mend", name="sets.mend")
def mend(request: Request, screen: AtScreen, set_code: str) -> Response:
    """Which moves mend this set, and what does each leave?"""
    return _of_the_past(request, set_code) or _mending(request, screen, set_code)


@router.post("/sets/{set_code:path}/mend", name="sets.mend_act")
def mend_act(request: Request, screen: AtScreen, set_code: str, sent: Sent) -> Response:
    """Mend the set as the chosen row says, in one transaction."""
    seen = dict(zip(sent.texts("entering"), sent.texts("seen"), strict=False))
    command = Mend(
        key=sent.text("key") or None,
        set=set_code,
        slots=sent.texts("serial"),
        reason=sent.text("reason"),
        seen={serial: int(seq) for serial, seq in seen.items() if seq.isdigit()},
        seen_set=sent.whole("seen_set"),
    )
    return _acted(request, screen, set_code, command, (N_("Not mended"), _mending))


@router.get("/sets/{set_code:path}/correct", name="sets.correct")
def correct(request: Request, screen: AtScreen, set_code: str) -> Response:
    """Which balance weights leave least of what the fitted set leaves?"""
    return _of_the_past(request, set_code) or _correcting(request, screen, set_code)


@router.post("/sets/{set_code:path}/correct", name="sets.correct_act")
def correct_act(request: Request, screen: AtScreen, set_code: str, sent: Sent) -> Response:
    """Record the weights that were placed."""
    command = PlaceWeights(
        key=sent.text("key") or None,
        set=set_code,
        weights=weights_sent(sent.texts("weight")),
        reason=sent.text("reason"),
    )
    return _acted(request, screen, set_code, command, (N_("Not recorded"), _correcting))


@router.post("/sets/{set_code:path}/act", name="sets.act")
def act(request: Request, screen: AtScreen, set_code: str, sent: Sent) -> Response:
    """Hand over, give back or send."""
    command = _act_of(set_code, sent)
    return _acted(request, screen, set_code, command, (N_("Nothing done"), _set_page))


def _act_of(set_code: str, sent: Given) -> HandOver | GiveBack | SendSet:
    key, wanted = sent.text("key") or None, sent.text("act")
    if wanted == "hand-over":
        return HandOver(key=key, set=set_code, to=sent.text("to"), seen=sent.whole("seen"))
    if wanted == "send":
        return SendSet(key=key, set=set_code, seen=sent.whole("seen"))
    if wanted == "give-back":
        return GiveBack(key=key, set=set_code, reason=sent.text("reason"))
    raise Refused("the form does not say what to do; open the page again")


Redraw = Callable[..., Response]


def _acted(
    request: Request,
    screen: Screen,
    set_code: str,
    command: Any,
    otherwise: tuple[str, Redraw],
) -> Response:
    """Do it and go to the set's page; refused, draw the page that asked anew and say why."""
    title, redraw = otherwise
    try:
        screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        return redraw(request, screen, set_code, Tried(title=title, error=trouble))
    return _onward(request, "sets.set", set_code)


def _onward(request: Request, route: str, set_code: str, **query: Any) -> Response:
    asked = {name: value for name, value in query.items() if value not in (None, "")}
    return RedirectResponse(path_for(request, route, set_code=set_code, **asked), 303)


def _of_the_past(request: Request, set_code: str) -> Response | None:
    """A page of acts knows no past: who asks for one sees the set as it was."""
    as_of = request.query_params.get("as_of")
    return _onward(request, "sets.set", set_code, as_of=as_of) if as_of else None


def _sheet(request: Request, screen: Screen, set_code: str) -> SetSheet:
    at_us = past_us(screen.ledger, screen.site, request.query_params.get("as_of"))
    with screen.ledger.read(screen.site, at_us) as read:
        return read_set_sheet(to_the_minute(read), set_code)


def _boards(request: Request, sheet: SetSheet) -> Boards:
    return Boards(sheet, words_for(request), figures_for(request))


def _drawn(
    request: Request,
    screen: Screen,
    set_code: str,
    template: str,
    *,
    tried: Tried | None = None,
    **more: Any,
) -> Response:
    sheet = more.pop("sheet", None) or _sheet(request, screen, set_code)
    boards = _boards(request, sheet)
    return page(
        request,
        template,
        status=tried.error.status if tried else 200,
        sheet=sheet,
        found=sheet.found,
        boards=boards,
        board=boards.board(planned=template == "sets/sheet.html"),
        screen=screen,
        tried=tried,
        key=new_key(),
        states=STATES,
        fact_words=FACTS,
        **more,
    )


def _set_page(
    request: Request, screen: Screen, set_code: str, tried: Tried | None = None
) -> Response:
    return _drawn(request, screen, set_code, "sets/set.html", tried=tried)


def _fitting(
    request: Request, screen: Screen, set_code: str, tried: Tried | None = None
) -> Response:
    sheet = _sheet(request, screen, set_code)
    slot = request.query_params.get("slot", "")
    asked = int(slot) if slot.isascii() and slot.isdigit() and len(slot) < 5 else None
    done = request.query_params.get("done", "")
    at = next((s for s, there in sheet.found.fitted.items() if there == done), None)
    # The field of this page takes every scan, so the head has none.
    shown = {"slot": next_slot(sheet.found, asked), "done": done if at else "", "at": at}
    shown["scan"] = None
    return _drawn(request, screen, set_code, "sets/fit.html", tried=tried, sheet=sheet, **shown)


def _mending(
    request: Request, screen: Screen, set_code: str, tried: Tried | None = None
) -> Response:
    query = request.query_params
    with screen.ledger.read(screen.site) as read:
        sheet = read_set_sheet(to_the_minute(read), set_code)
        stock = read_stock(read, sheet.found.product)
        lost = query.getlist("lost") or list(sheet.lacking)
    mending = mending_of(sheet, stock, lost, loose=query.get("loose") == "1")
    seqs = {one.blade.serial: one.last_seq for one in stock.blades}
    shown = {"mending": mending, "seqs": seqs, "sheet": sheet}
    return _drawn(request, screen, set_code, "sets/mend.html", tried=tried, **shown)


def _correcting(
    request: Request, screen: Screen, set_code: str, tried: Tried | None = None
) -> Response:
    sheet = _sheet(request, screen, set_code)
    shown = {"correcting": correction_of(sheet, request.query_params), "sheet": sheet}
    return _drawn(request, screen, set_code, "sets/correct.html", tried=tried, **shown)


# Last: a code may hold a slash, and would swallow what stands behind one.
@router.get("/sets/{set_code:path}", name="sets.set")
def one(request: Request, screen: AtScreen, set_code: str) -> Response:
    """What of this set?"""
    return _drawn(request, screen, set_code, "sets/set.html")


# After the fixed addresses of the room: a set's code would swallow them.
router.routes[:0] = rotor_pages.router.routes
