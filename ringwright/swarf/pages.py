"""The mass account of the case shop: of a week, and of one case."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.calendar import week_before
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.typed import parse_whole
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.remembered import Remembered
from ringwright.material.service import AddMaterial, CorrectMaterial
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.swarf import container_pages, lot_pages
from ringwright.swarf.case_sheets import CaseLists
from ringwright.swarf.forms import typed_mass
from ringwright.swarf.model import MassSheet
from ringwright.swarf.ruler import draw
from ringwright.swarf.service import read_case, read_mass
from ringwright.swarf.sheets import OPEN_SHOWN
from ringwright.swarf.words import CAUTION

router = APIRouter(include_in_schema=False)
SHEETS: Final = Remembered[MassSheet]()


@router.get("/case/mass", name="swarf.mass")
def mass(request: Request, screen: AtScreen) -> Response:
    """Did the metal that came in come out again?"""
    sheet = _sheet(request, screen)
    lists = _lists(request, screen)
    found = sheet.closing
    return page(
        request,
        "swarf/mass.html",
        screen=screen,
        sheet=sheet,
        as_of=request.query_params.get("as_of") or None,
        answer=lists.answer(sheet),
        ruler_of=None if found is None else draw(found),
        before=week_before(sheet.week),
        after=week_before(sheet.week, -1),
        caution=words_for(request)._(CAUTION),
        figures_of=None if found is None else lists.figures(found),
        cases=lists.cases(sheet),
        weeks=lists.weeks(sheet),
        alloys=lists.alloys(sheet),
        kept=lists.kept(sheet),
        open=lists.open(sheet, OPEN_SHOWN),
        told=lists.told,
    )


@router.get("/case/mass/file.{form}", name="swarf.mass_file")
def mass_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The account of the week as a file."""
    found = _sheet(request, screen)
    return file_answer(request, _lists(request, screen).book(found), form, sheet)


@router.get("/case/mass/{serial}", name="swarf.case")
def case(request: Request, screen: AtScreen, serial: str) -> Response:
    """What became of this forging?"""
    return _case(request, screen, serial, None)


@router.get("/case/mass/{serial}/file.{form}", name="swarf.case_file")
def case_file(
    request: Request, screen: AtScreen, serial: str, form: str, sheet: str | None = None
) -> Response:
    """The account of one case as a file."""
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found, _alloy = read_case(read, serial)
        drawn = snapshot_of(read, to_the_minute=True)
    return file_answer(request, _lists(request, screen).case_book(found, drawn), form, sheet)


@router.post("/case/mass/{serial}", name="swarf.case_act")
def case_act(request: Request, screen: AtScreen, serial: str, sent: Sent) -> Response:
    """Book material that was put on the part, or take such an entry back."""
    tried = attempt(screen, sent, N_("Not booked"), partial(_act, serial))
    if tried is not None:
        return _case(request, screen, serial, tried)
    return RedirectResponse(path_for(request, "swarf.case", serial=serial), 303)


def _act(serial: str, screen: Screen, sent: Given) -> object:
    making = _ACTS.get(sent.text("act"))
    if making is None:
        raise Refused("that act is not known here; open the page again")
    return screen.ledger.execute(screen.site, making(serial, sent), screen.actor)


def _put(serial: str, sent: Given) -> AddMaterial:
    step = sent.text("step")
    return AddMaterial(
        serial=serial,
        what=sent.text("what"),
        net=typed_mass(sent, "mass"),
        step=parse_whole(step, "step") if step else None,
        key=key_of(sent),
    )


def _correct(serial: str, sent: Given) -> CorrectMaterial:
    return CorrectMaterial(
        serial=serial,
        entry=parse_whole(sent.text("entry"), "entry"),
        reason=sent.text("reason"),
        key=key_of(sent),
    )


_ACTS: Final[dict[str, Callable[[str, Given], Any]]] = {"put": _put, "correct": _correct}


def _case(request: Request, screen: Screen, serial: str, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site, _past(request, screen)) as read:
        found, alloy = read_case(read, serial)
        drawn = snapshot_of(read, to_the_minute=True)
    lists, closing = _lists(request, screen), found.closing
    shown: dict[str, Any] = {
        "case": found,
        "alloy": alloy,
        "answer": lists.case_answer(found),
        "ruler_of": None if closing is None else draw(closing),
        "rulers": [
            (one, draw(one.closing), lists.told.closing(one.closing)) for one in found.stages
        ],
        "figures_of": None if closing is None else lists.figures(closing),
        "stages": lists.stages(found),
        "batches": lists.batches(found),
        "put": lists.put(found),
    }
    return page(
        request,
        "swarf/case.html",
        status=tried.status if tried else 200,
        screen=screen,
        drawn=drawn,
        as_of=request.query_params.get("as_of") or None,
        tried=tried,
        given=tried.given if tried else NOTHING,
        key=new_key(),
        told=lists.told,
        **shown,
    )


def _past(request: Request, screen: Screen) -> int | None:
    return past_us(screen.ledger, screen.site, request.query_params.get("as_of"))


def _sheet(request: Request, screen: Screen) -> MassSheet:
    given = request.query_params
    week, product = given.get("week") or None, given.get("product") or None
    with screen.ledger.read(screen.site, _past(request, screen)) as snapshot:
        read = to_the_minute(snapshot)
        return SHEETS.answer(read, (week, product), lambda: read_mass(read, week, product))


def _lists(request: Request, screen: Screen) -> CaseLists:
    link = partial(path_for, request)
    return CaseLists(words_for(request), figures_for(request), link, screen.zone)


router.routes.extend(container_pages.router.routes)
router.routes.extend(lot_pages.router.routes)
