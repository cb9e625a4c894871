"""A containment: what is still held, who was told, clearing it; and the list of all."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import RingwrightError
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.sheets import Book
from ringwright.ledger.service import Read
from ringwright.people.screen import AtScreen, Screen
from ringwright.trace.asking import asked_of
from ringwright.trace.containment_board import Teller, containments_sheet
from ringwright.trace.containments import (
    CLOSED_SHOWN,
    Containment,
    read_containment,
    read_containments,
    read_recent,
)
from ringwright.trace.service import Clear, SendNotice
from ringwright.trace.sheets import Tell, cut_off
from ringwright.trace.touched import read_touched

router = APIRouter(include_in_schema=False)


@router.get("/trace/containments", name="trace.containments")
def containments(request: Request, screen: AtScreen) -> Response:
    """Containments, the newest first, with what is still to do; `all` for the oldest too."""
    listed = _listed(request, screen, everything="all" in request.query_params)
    return page(request, "trace/containments.html", **listed)


@router.get("/trace/containments/file.{form}", name="trace.containments_file")
def containments_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The list as a file."""
    listed = _listed(request, screen, everything=True)
    return file_answer(request, listed["book"], form, sheet)


@router.get("/trace/containments/{code}/file.{form}", name="trace.containment_file")
def containment_file(
    request: Request, screen: AtScreen, code: str, form: str, sheet: str | None = None
) -> Response:
    """A containment's parts as a file."""
    found, _ = _found(screen, code, request)
    book = Teller(found, words_for(request), figures_for(request)).book()
    return file_answer(request, book, form, sheet)


@router.get("/trace/containments/{code}", name="trace.containment")
def containment(request: Request, screen: AtScreen, code: str, done: str = "") -> Response:
    """One containment: what is still held, which notices are open, what was cleared."""
    return _drawn(request, screen, code, {"done": done})


@router.post("/trace/containments/{code}/clear", name="trace.clear")
def clear(request: Request, screen: AtScreen, code: str, sent: Sent) -> Response:
    """Clear the ticked parts, or all of them, with one reason."""
    command = Clear(
        key=sent.text("key") or None,
        containment=code,
        serials=_ticked(sent),
        reason=sent.text("reason"),
    )
    return _tried(request, screen, command, sent, "cleared")


@router.post("/trace/containments/{code}/notice", name="trace.notice")
def send_notice(request: Request, screen: AtScreen, code: str, sent: Sent) -> Response:
    """Record to whom the notices of the ticked parts, or of all, were sent."""
    command = SendNotice(
        key=sent.text("key") or None,
        containment=code,
        serials=_ticked(sent),
        to=sent.text("to"),
    )
    return _tried(request, screen, command, sent, "told")


def _ticked(sent: Given) -> tuple[str, ...]:
    """The parts that were ticked; "all" means all there were when the page was drawn."""
    if sent.text("all"):
        listed = sent.text("of").split("\n")
        return tuple(serial.strip("\r") for serial in listed if serial.strip("\r"))
    return sent.texts("serial")


def _tried(
    request: Request, screen: Screen, command: Clear | SendNotice, sent: Given, done: str
) -> Response:
    try:
        screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        told = {"why": trouble.message, "sent": sent, "act": done}
        return _drawn(request, screen, command.containment, told, trouble.status)
    code = command.containment
    return RedirectResponse(path_for(request, "trace.containment", code=code, done=done), 303)


def _found(screen: Screen, code: str, request: Request) -> tuple[Containment, int]:
    """The containment, and how many parts its suspect touched that are not in it."""
    at_us = past_us(screen.ledger, screen.site, asked_of(request).get("as_of", ""))
    with screen.ledger.read(screen.site, at_us) as snapshot:
        read = to_the_minute(snapshot)
        found = read_containment(read, code)
        return found, _since(read, found)


def _since(read: Read, found: Containment) -> int:
    """Parts that the same question touches now and that nobody contained."""
    if found.line.question is None:
        return 0
    try:
        touched = read_touched(read, found.line.question)
    except RingwrightError:
        return 0
    there = {part.standing.serial for part in found.parts}
    return len(set(touched.serials) - there)


def _drawn(
    request: Request, screen: Screen, code: str, told: dict[str, Any], status: int = 200
) -> Response:
    found, since = _found(screen, code, request)
    asked = asked_of(request)
    teller = Teller(found, words_for(request), figures_for(request))
    link = lambda serial: path_for(request, "trace.part", serial=serial)  # noqa: E731
    context = {"done": "", "why": "", "sent": None, "act": "", **told}
    return page(
        request,
        "trace/containment.html",
        status=status,
        screen=screen,
        board=teller.board(link, asked.get("find", "").strip()),
        since=since,
        find=asked.get("find", ""),
        as_of=asked.get("as_of") or None,
        question=found.line.question.address(found.zone) if found.line.question else None,
        key=new_key(),
        **context,
    )


def _listed(request: Request, screen: Screen, *, everything: bool) -> dict[str, Any]:
    """The list as a book, how many still ask for something, whether older ones are left out."""
    words, show = words_for(request), figures_for(request)
    at_us = past_us(screen.ledger, screen.site, asked_of(request).get("as_of", ""))
    with screen.ledger.read(screen.site, at_us) as snapshot:
        read = to_the_minute(snapshot)
        whole = everything or at_us is not None
        codes, left = (None, False) if whole else read_recent(read)
        lines = read_containments(read, codes)
        tell = Tell(words, show, read.site.zone, read.now_us)
    link = lambda code: path_for(request, "trace.containment", code=code)  # noqa: E731
    waits = sum(line.open > 0 for line in lines)
    said = words.ngettext(
        "%(n)s containment is not cleared yet.",
        "%(n)s containments are not cleared yet.",
        waits,
        n=show.count(waits),
    )
    book = Book(
        page="containments",
        question=words._("What is contained?"),
        answer=said if waits else words._("Nothing is contained."),
        filters=(),
        cut_off=cut_off(tell, read.head_seq, read.head_hash, read.as_of_us),
        zone=read.site.zone,
        at_us=read.now_us,
        sheets=(containments_sheet(lines, tell, link),),
    )
    return {"book": book, "waits": waits, "left": left, "shown": CLOSED_SHOWN}
