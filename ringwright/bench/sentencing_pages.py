"""What waits for a sentence, and the entries of a part with their corrections."""

from __future__ import annotations

from functools import partial
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.bench.board import KINDS, entry_lines, zones_of
from ringwright.bench.lists import WaitingList
from ringwright.bench.queries import read_bench_sheet, read_open_nonconformities
from ringwright.bench.sentencing import Desk, correct, read_desk, sentence, witness
from ringwright.core.calendar import iso_text
from ringwright.kit.forms import Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.parts.words import PLACE_WORDS
from ringwright.people.screen import AtScreen, Screen

router = APIRouter(include_in_schema=False)


@router.get("/bench/nonconformities", name="bench.nonconformities")
def nonconformities(
    request: Request,
    screen: AtScreen,
    open: int | None = None,
    done: int | None = None,
    whole: str = "",
) -> Response:
    """Stops that wait for a sentence, the oldest first; one of them opened."""
    return _desk_page(request, read_desk(screen, open, whole, done=done))


@router.get("/bench/nonconformities/file.{form}", name="bench.waiting_file")
def waiting_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """What waits for a sentence as a file to keep."""
    with screen.ledger.read(screen.site) as read:
        book = _list(request, screen).book(read, read_open_nonconformities(read))
    return file_answer(request, book, form, sheet)


@router.post("/bench/sentences/{serial:path}", name="bench.sentence")
def give_sentence(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Close a nonconformity by its decision."""
    desk = sentence(screen, serial, sent)
    return _desk_page(request, desk)


@router.post("/bench/witness/{serial:path}", name="bench.witness")
def see_unusable(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Record that a scrapped part was seen made unusable."""
    desk = witness(screen, serial, sent)
    return _desk_page(request, desk)


@router.get("/bench/entries/{serial:path}", name="bench.entries")
def entries(
    request: Request, screen: AtScreen, serial: str, done: int | None = None
) -> Response:
    """Every entry of a part, the newest first, each open to correction."""
    return _entries_page(request, screen, serial, done=done)


@router.post("/bench/corrections/{serial:path}", name="bench.correct")
def give_correction(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Void an entry or change fields of it, with a reason; the entry itself stays."""
    entry, why = correct(screen, serial, sent)
    if why is None:
        onward = path_for(request, "bench.entries", serial=serial, done=entry)
        return RedirectResponse(onward, 303)
    return _entries_page(request, screen, serial, why=why.message, sent=sent, status=why.status)


def _list(request: Request, screen: Screen) -> WaitingList:
    link = partial(path_for, request)
    return WaitingList(words_for(request), figures_for(request), link, screen.zone)


def _desk_page(request: Request, desk: Desk) -> Response:
    if desk.done_route:
        onward = path_for(request, "bench.nonconformities", done=desk.done)
        return RedirectResponse(onward, 303)
    zones = zones_of(desk.sheet, words_for(request)) if desk.sheet else ()
    return page(
        request,
        "bench/nonconformities.html",
        status=desk.status,
        desk=desk,
        waiting=_list(request, desk.screen).sheet(
            desk.waiting, desk.now_us, desk.opened.number if desk.opened else None
        ),
        places=PLACE_WORDS,
        zones=zones,
    )


def _entries_page(
    request: Request, screen: Screen, serial: str, *, status: int = 200, **told: Any
) -> Response:
    with screen.ledger.read(screen.site) as read:
        sheet = read_bench_sheet(read, serial)
        now_us, zone = read.now_us, read.site.zone
    lines = entry_lines(sheet.events, words_for(request), lambda us: iso_text(us, zone))
    context = {"done": None, "why": None, "sent": None, **told}
    return page(
        request,
        "bench/entries.html",
        status=status,
        screen=screen,
        sheet=sheet,
        lines=lines,
        now_us=now_us,
        zone=zone,
        key=new_key(),
        kinds=KINDS,
        places=PLACE_WORDS,
        **context,
    )
