"""The Handover page: what a shift leaves to the next, its notes, and their taking over."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.core.instants import iso_text
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.handover.lists import MOST_VISITS, HandoverLists, shift_words
from ringwright.handover.queries import MOST_FOUND, search_notes
from ringwright.handover.rules import LONGEST_NOTE, Note, Span
from ringwright.handover.service import PERMISSION, LeaveNote, TakeOver
from ringwright.handover.sheet import HandoverSheet, read_handover
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.people.words import ROLE_WORDS

router = APIRouter(include_in_schema=False)
LONGEST_ASKED: Final = 120
"""Letters of a search among the notes."""


@router.get("/handover", name="handover.page")
def handover(
    request: Request, screen: AtScreen, shift: str | None = None, as_of: str | None = None
) -> Response:
    """What did this shift do, and what does it leave to the next?"""
    return _page(request, screen, (shift, as_of), None)


@router.get("/handover/file.{form}", name="handover.file")
def handover_file(
    request: Request,
    form: str,
    shift: str | None = None,
    as_of: str | None = None,
    sheet: str | None = None,
) -> Response:
    """The whole handover as a file to keep."""
    found = _read(request, request.query_params.get("site"), (shift, as_of))
    lists = HandoverLists(found, words_for(request), figures_for(request))
    return file_answer(request, lists.book(), form, sheet)


@router.get("/handover/notes", name="handover.notes")
def notes(request: Request, screen: AtScreen, q: str = "") -> Response:
    """Notes of all shifts, the newest first."""
    asked = q.strip()
    if len(asked) > LONGEST_ASKED:
        raise Refused(f"search for at most {LONGEST_ASKED} letters")
    with screen.ledger.read(screen.site) as read:
        found = search_notes(read, asked)
        now_us = read.now_us
    return page(
        request,
        "handover/notes.html",
        found=found[:MOST_FOUND],
        more=len(found) > MOST_FOUND,
        asked=asked,
        now_us=now_us,
        zone=screen.zone,
        roles=ROLE_WORDS,
        link_of=_link_of(request, screen.zone),
    )


@router.post("/handover/notes", name="handover.note")
def note(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Leave a note."""
    tried = attempt(screen, sent, N_("Note not kept"), _leave)
    return _after(request, screen, sent, tried)


@router.post("/handover/taken", name="handover.take")
def take(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Take notes over."""
    tried = attempt(screen, sent, N_("Notes not taken over"), _take)
    return _after(request, screen, sent, tried)


def _leave(screen: Screen, sent: Given) -> object:
    command = LeaveNote(
        shift=sent.text("shift"),
        text=sent.text("text"),
        for_role=sent.text("for_role"),
        serial=sent.text("part"),
        key=key_of(sent),
    )
    return screen.ledger.execute(screen.site, command, screen.actor)


def _take(screen: Screen, sent: Given) -> object:
    numbers = []
    for text in sent.texts("thing"):
        if not (text.isascii() and text.isdigit() and len(text) < 16):
            raise Refused(f"note {text[:40]!r} is no entry's number; open the page again")
        numbers.append(int(text))
    command = TakeOver(notes=tuple(numbers), key=key_of(sent))
    return screen.ledger.execute(screen.site, command, screen.actor)


def _after(request: Request, screen: Screen, sent: Given, tried: Tried | None) -> Response:
    shift = sent.text("shown") or None
    if tried is None:
        return RedirectResponse(path_for(request, "handover.page", shift=shift), 303)
    return _page(request, screen, (shift, None), tried)


def _read(
    request: Request, site: str | None, asked: tuple[str | None, str | None]
) -> HandoverSheet:
    ledger, (shift, as_of) = request.app.state.ledger, asked
    at_us = past_us(ledger, site, as_of)
    with ledger.read(site, at_us) as snapshot:
        return read_handover(to_the_minute(snapshot), shift or None)


def _page(
    request: Request,
    screen: Screen,
    asked: tuple[str | None, str | None],
    tried: Tried | None,
) -> Response:
    found = _read(request, screen.site, asked)
    words, show = words_for(request), figures_for(request)
    lists = HandoverLists(found, words, show, lambda *a, **k: path_for(request, *a, **k))
    return page(
        request,
        "handover/page.html",
        status=tried.status if tried else 200,
        found=found,
        answer=lists.answer(),
        lists=lists.shown(),
        done=lists.done_by_product(),
        visits=lists.visits(MOST_VISITS),
        shift=shift_words(found.span, found.zone, found.at_us, words, show),
        own=iso_text(found.span.start_us, found.zone),
        neighbours=_neighbours(request, found, asked[1]),
        as_of=asked[1],
        key=new_key(),
        screen=screen,
        permission=PERMISSION,
        may_take=_may_take(screen),
        roles=ROLE_WORDS,
        longest=LONGEST_NOTE,
        tried=tried,
        given=tried.given if tried else NOTHING,
        link_of=_link_of(request, found.zone),
    )


def _neighbours(
    request: Request, found: HandoverSheet, as_of: str | None
) -> list[tuple[str, str]]:
    """(address, words) of the shift before, the one after, the one under way."""
    words = words_for(request)

    def at(span: Span | None) -> str:
        shift = None if span is None else iso_text(span.start_us, found.zone)
        return path_for(request, "handover.page", shift=shift, as_of=as_of)

    linked = [(at(found.before), words._("Shift before"))]
    if found.after is not None:
        linked += [
            (at(found.after), words._("Shift after")),
            (at(None), words._("Shift under way")),
        ]
    return linked


def _may_take(screen: Screen) -> Callable[[Note], bool]:
    """Whether whoever is signed in may take a note over; a signature decides at a bench."""
    if screen.person is None:
        return lambda note: note.taken_us is None and screen.shared
    code, roles = screen.person.code, frozenset(screen.person.roles)
    allowed = screen.may(PERMISSION)
    return lambda note: allowed and note.taken_us is None and note.for_whom(code, roles)


def _link_of(request: Request, zone: str) -> Callable[[Note], dict[str, Any]]:
    """Where a note's shift and part lead."""

    def links(note: Note) -> dict[str, Any]:
        part = note.serial and path_for(request, "trace.part", serial=note.serial)
        shift = iso_text(note.shift_us, zone)
        return {"part": part, "shift": path_for(request, "handover.page", shift=shift)}

    return links
