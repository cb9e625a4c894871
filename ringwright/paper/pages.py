"""Paper: print a pack, enter its sheets twice, see what is outstanding."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from fastapi import APIRouter, Request
from sqlalchemy import select
from starlette.responses import RedirectResponse, Response

from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.core.facts import Registry
from ringwright.core.glossary import N_
from ringwright.kit.datamatrix import mark_of
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import page, path_for
from ringwright.kit.typed import parse_figure
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import fetch_entries
from ringwright.paper import rack
from ringwright.paper.facts import FACTS, KIND
from ringwright.paper.rules import (
    AGREED,
    BOOKED,
    DIFFERENT,
    ONCE,
    OPEN,
    UNUSED,
    PackNow,
    differences,
    pack_of,
)
from ringwright.paper.service import BookSheet, EnterSheet, GiveUpSheet, MakePack, Sheet
from ringwright.parts.queries import read_events, read_part
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import key_of
from ringwright.routecards.queries import card_finder

router = APIRouter(include_in_schema=False)
# Before the packs, whose codes could say "rack".
router.routes.extend(rack.router.routes)

_REGISTRY = Registry()
_REGISTRY.register(*FACTS)
STATES: Final[dict[str, str]] = {
    OPEN: N_("not entered"),
    ONCE: N_("entered once"),
    DIFFERENT: N_("entered differently"),
    AGREED: N_("agreed, not booked"),
    BOOKED: N_("booked"),
    UNUSED: N_("not used"),
}


@router.get("/paper", name="paper.packs")
def packs(request: Request, screen: AtScreen) -> Response:
    """Every pack with what is outstanding, and a new one."""
    return _packs(request, screen, None)


@router.post("/paper", name="paper.make")
def make(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Make a pack, and go to its print."""
    command = MakePack(group=sent.text("group"), key=sent.text("key") or None)
    try:
        answer = screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as trouble:
        return _packs(request, screen, trouble)
    return RedirectResponse(path_for(request, "paper.pack", pack=answer["pack"]), 303)


@router.get("/paper/{pack}", name="paper.pack")
def pack(request: Request, screen: AtScreen, pack: str) -> Response:
    """The sheets of a pack, to be printed."""
    with screen.ledger.read(screen.site) as read:
        found = _pack(read, pack)
        find = card_finder(read.connection, read.site.id)
        steps = {}
        for sheet in found.sheets:
            part = read_part(read, sheet.serial)
            card = find(part.product, part.revision)
            steps[sheet.number] = (part, card.by_number[sheet.step])
    return page(
        request,
        "paper/pack.html",
        screen=screen,
        pack=found,
        steps=steps,
        mark_of=mark_of,
        states=STATES,
        zone=screen.zone,
    )


@router.get("/paper/sheets/{sheet}", name="paper.sheet")
def sheet(request: Request, screen: AtScreen, sheet: str) -> Response:
    """Enter a sheet; what another person entered is not shown before."""
    return _sheet(request, screen, (sheet, Given(fields={}, files={})), None)


@router.post("/paper/sheets/{sheet}", name="paper.enter")
def enter(request: Request, screen: AtScreen, sheet: str, sent: Sent) -> Response:
    """Enter, book or give up a sheet; refused, what was typed stays in the form."""
    try:
        do = _ACTS.get(sent.text("act"))
        if do is None:
            raise Refused("that act is not known here; open the sheet again")
        command = do(screen, sheet, sent)
        answer = screen.ledger.execute(screen.site, command, screen.actor)
        if answer.get("agreed"):
            agreed = BookSheet(number=sheet, key=f"{key_of(sent)}-book")
            screen.ledger.execute(screen.site, agreed, screen.actor)
    except RingwrightError as trouble:
        return _sheet(request, screen, (sheet, sent), trouble)
    return RedirectResponse(path_for(request, "paper.sheet", sheet=sheet), 303)


def _entered(screen: Screen, number: str, sent: Given) -> EnterSheet:
    return EnterSheet(
        number=number,
        sheet=Sheet(
            by=sent.text("by"),
            began_us=_moment(screen, sent, "began"),
            ended_us=_moment(screen, sent, "ended") if sent.text("ended") else None,
            outcome=sent.text("outcome"),
            station=sent.text("station"),
            readings={
                code: parse_figure(text, code)
                for code, text in sent.under("reading.").items()
                if text
            },
            gauges={code: text for code, text in sent.under("gauge.").items() if text},
            note=sent.text("note"),
        ),
        key=key_of(sent),
    )


def _moment(screen: Screen, sent: Given, name: str) -> int:
    text = sent.text(name)
    try:
        return parse_instant(text, screen.zone)
    except ValueError as trouble:
        raise Refused(f"{name} {text[:40]!r}: {trouble}") from None


def _booked(_screen: Screen, number: str, sent: Given) -> BookSheet:
    return BookSheet(number=number, key=key_of(sent))


def _given_up(_screen: Screen, number: str, sent: Given) -> GiveUpSheet:
    return GiveUpSheet(number=number, reason=sent.text("reason"), key=key_of(sent))


_ACTS: Final[dict[str, Callable[[Screen, str, Given], Any]]] = {
    "enter": _entered,
    "book": _booked,
    "give-up": _given_up,
}


def _pack(read: Read, code: str) -> PackNow:
    found = fetch_entries(read.connection, _REGISTRY, read.site.id, KIND, [code])
    pack = pack_of(code, found.get(code, []))
    if pack is None:
        raise Missing(f"there is no pack {code}")
    return pack


def _all(read: Read) -> list[PackNow]:
    query = (
        select(Event.subject)
        .where(Event.site_id == read.site.id, Event.subject_kind == KIND)
        .distinct()
    )
    codes = sorted(read.connection.execute(query).scalars())
    found = fetch_entries(read.connection, _REGISTRY, read.site.id, KIND, codes)
    packs = [pack for code in codes if (pack := pack_of(code, found.get(code, [])))]
    return packs[::-1]


def _packs(request: Request, screen: Screen, trouble: RingwrightError | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = _all(read)
        now_us = read.now_us
    groups = sorted({one.group for one in screen.stations if one.group})
    return page(
        request,
        "paper/packs.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        packs=found,
        groups=groups,
        states=STATES,
        outstanding=sum(one.outstanding for one in found),
        trouble=trouble,
        key=new_key(),
        zone=screen.zone,
        now_us=now_us,
    )


def _sheet(
    request: Request, screen: Screen, asked: tuple[str, Given], trouble: RingwrightError | None
) -> Response:
    number, given = asked
    with screen.ledger.read(screen.site) as read:
        pack = _pack(read, number.rpartition("-")[0])
        sheet = pack.sheet(number)
        if sheet is None:
            raise Missing(f"there is no sheet {number}")
        part = read_part(read, sheet.serial)
        card = card_finder(read.connection, read.site.id)(part.product, part.revision)
        since = [e for e in read_events(read, sheet.serial) if e.site_seq > pack.head]
        now_us = read.now_us
    last = list(sheet.entered.values())
    apart = differences(last[-2].content, last[-1].content) if len(last) > 1 else []
    mine = screen.person.code if screen.person else ""
    return page(
        request,
        "paper/sheet.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        pack=pack,
        sheet=sheet,
        part=part,
        step=card.by_number[sheet.step],
        since=since,
        # Blind: what the other entered is seen only once both have, and differ.
        apart=apart if not sheet.done else [],
        two=last[-2:],
        own=mine in sheet.entered,
        given=given,
        trouble=trouble,
        states=STATES,
        key=new_key(),
        zone=screen.zone,
        now_us=now_us,
    )
