"""One furnace: what it is, what was proved of it, its thermocouples, its runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused
from ringwright.core.glossary import N_
from ringwright.core.instants import iso_text, midnight_us
from ringwright.furnaces.card import PROOFS, SURVEY, UNITS
from ringwright.furnaces.queries import (
    Which,
    read_furnaces,
    read_recipes,
    read_runs,
    read_uses,
)
from ringwright.furnaces.rules import FurnacePast, Health, Run, health
from ringwright.furnaces.service import Prove, Renew, SetFurnace
from ringwright.heat.classes import CLASSES, furnace_class
from ringwright.heatruns.forms import channels_text, furnace_from, proofs_text
from ringwright.heatruns.lists import RUNS_SHOWN, FurnaceLists
from ringwright.heatruns.ready import Against, against
from ringwright.heatruns.words import STATES, FurnaceWords
from ringwright.kit.cutoff import Snapshot, cut_off
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.sheets import Book
from ringwright.kit.typed import parse_figure
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.sites.queries import when_at

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnaceSheet:
    """One furnace with its past."""

    past: FurnacePast
    day: str
    proofs: tuple[Health, ...]
    against: list[Against]
    uses: dict[str, int]
    runs: list[Run]
    recipes: list[str]
    """Codes of all recipes."""
    drawn: Snapshot

    @property
    def run(self) -> Run | None:
        """The run that takes it now."""
        return next((one for one in self.runs if one.state in ("loading", "running")), None)

    @property
    def failed_survey(self) -> Health | None:
        """The survey, where the last one failed."""
        surveys = (one for one in self.proofs if one.what == SURVEY)
        return next((one for one in surveys if one.last and not one.last.good), None)


def read_furnace_sheet(read: Read, code: str) -> FurnaceSheet:
    """One furnace; raises Missing."""
    found = read_furnaces(read.connection, read.site.id, read.known_before_us).get(code)
    if found is None:
        raise Missing(f"there is no furnace {code[:60]}")
    day = when_at(read.now_us, read.site.zone).day
    which = Which(furnace=code, most=RUNS_SHOWN)
    return FurnaceSheet(
        past=found,
        day=day,
        proofs=health(found, day),
        against=against(read, found),
        uses=read_uses(read.connection, read.site.id, found),
        runs=read_runs(read.connection, read.site.id, which),
        recipes=list(read_recipes(read.connection, read.site.id)),
        drawn=snapshot_of(read, to_the_minute=True),
    )


@router.get("/furnace/of/{furnace}", name="heatruns.furnace")
def one(request: Request, screen: AtScreen, furnace: str) -> Response:
    """May this furnace be loaded, and what was proved of it?"""
    return _one(request, screen, furnace, None)


@router.get("/furnace/of/{furnace}/file.{form}", name="heatruns.furnace_file")
def one_file(
    request: Request, screen: AtScreen, furnace: str, form: str, sheet: str | None = None
) -> Response:
    """Its surveys, tests and runs as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_furnace_sheet(read, furnace)
    words, show = words_for(request), figures_for(request)
    lists = FurnaceLists(words, show, partial(path_for, request), screen.zone)
    book = Book(
        page="furnace",
        question=words._("May this furnace be loaded?"),
        answer=_answer(request, found),
        filters=((words._("furnace"), furnace),),
        cut_off=cut_off(found.drawn, words, show),
        zone=screen.zone,
        at_us=found.drawn.now_us,
        sheets=(lists.proofs(found.past), lists.runs(found.runs, words._("Runs"))),
    )
    return file_answer(request, book, form, sheet)


@router.post("/furnace/of/{furnace}", name="heatruns.furnace_act")
def act(request: Request, screen: AtScreen, furnace: str, sent: Sent) -> Response:
    """Record a survey or test, renew a thermocouple, change what the furnace is."""
    answers: list[dict[str, Any]] = []

    def do(screen: Screen, given: Given) -> object:
        doing = _ACTS.get(given.text("act"))
        if doing is None:
            raise Refused("that act is not known here; open the page again")
        answers.append(screen.ledger.execute(screen.site, doing(furnace, given), screen.actor))
        return answers[-1]

    title = _TITLES.get(sent.text("act"), N_("Not done"))
    tried = attempt(screen, sent, title, do)
    if tried is not None:
        return _one(request, screen, furnace, tried)
    if answers[0].get("good") is False and sent.text("what") == SURVEY:
        return RedirectResponse(
            _touched(request, screen, furnace, answers[0]["last_good"]), 303
        )
    return RedirectResponse(path_for(request, "heatruns.furnace", furnace=furnace), 303)


def _touched(request: Request, screen: Screen, furnace: str, since: str | None) -> str:
    """Traceability, asked of all that the furnace touched since its last good survey."""
    asked = {"station": furnace}
    if since is not None:
        asked["from"] = iso_text(midnight_us(since, screen.zone), screen.zone)
    return path_for(request, "trace.touched", **asked)


def _prove(furnace: str, sent: Given) -> Prove:
    found, value = sent.text("found"), sent.text("value")
    if found not in ("", "good", "failed"):
        raise Refused("say whether it was found good or failed")
    return Prove(
        furnace=furnace,
        what=sent.text("what"),
        on=sent.text("on"),
        value=parse_figure(value, "value") if value else None,
        good=None if not found else found == "good",
        due=sent.text("due"),
        certificate=sent.text("certificate"),
        note=sent.text("note"),
        key=key_of(sent),
    )


def _renew(furnace: str, sent: Given) -> Renew:
    return Renew(
        furnace=furnace,
        channel=sent.text("channel"),
        gauge=sent.text("gauge"),
        key=key_of(sent),
    )


def _set(furnace: str, sent: Given) -> SetFurnace:
    return SetFurnace(furnace=furnace_from(sent, furnace), key=key_of(sent))


_ACTS: Final[dict[str, Callable[[str, Given], Any]]] = {
    "prove": _prove,
    "renew": _renew,
    "set": _set,
}
_TITLES: Final = {
    "prove": N_("Not kept"),
    "renew": N_("Thermocouple not renewed"),
    "set": N_("Furnace not kept"),
}


def _answer(request: Request, found: FurnaceSheet) -> str:
    _, code = words_for(request)._, found.past.furnace.code
    if found.past.furnace.withdrawn:
        return _("%(code)s is out of use", code=code)
    if found.run is not None:
        return _("%(code)s is taken by %(run)s", code=code, run=found.run.code)
    if found.against:
        return _("%(code)s may not be loaded", code=code)
    return _("%(code)s may be loaded", code=code)


def _one(request: Request, screen: Screen, code: str, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = read_furnace_sheet(read, code)
    words, show = words_for(request), figures_for(request)
    lists = FurnaceLists(words, show, partial(path_for, request), screen.zone)
    furnace, failed = found.past.furnace, found.failed_survey
    since = None
    if failed is not None:
        last = found.past.last_good(SURVEY, found.past.latest(SURVEY))
        since = _touched(request, screen, code, last.found.on if last else None)
    limit = furnace.furnace_class
    return page(
        request,
        "heatruns/furnace.html",
        status=tried.status if tried else 200,
        found=found,
        furnace=furnace,
        furnace_classes=CLASSES,
        answer=_answer(request, found),
        class_limit_c=None if limit is None else furnace_class(limit).uniformity_c,
        proofs=lists.proofs(found.past),
        runs=lists.runs(found.runs, words._("Runs")),
        since=since,
        words_of=PROOFS,
        units=UNITS,
        states=STATES,
        told=FurnaceWords(words, show),
        channels=channels_text(furnace),
        proof_lines=proofs_text(furnace),
        screen=screen,
        zone=screen.zone,
        tried=tried,
        given=tried.given if tried else Given(fields={}, files={}),
        key=new_key(),
    )
