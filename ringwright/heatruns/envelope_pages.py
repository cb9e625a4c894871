"""What good runs of a recipe read, and how early a bad one would have been seen."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.core.errors import Missing
from ringwright.furnaces.queries import Which, read_run, read_runs
from ringwright.furnaces.rules import TAKES_READINGS, Run
from ringwright.heat.envelope import Departure, first_departure
from ringwright.heat.trace import Trace
from ringwright.heatruns.departing import failed_of
from ringwright.heatruns.envelope_lists import EnvelopeLists
from ringwright.heatruns.envelope_ruler import CorridorDrawing, draw_corridor
from ringwright.heatruns.envelopes import GoodRuns, read_good_runs, trace_in_cycle
from ringwright.heatruns.words import STATES, FurnaceWords
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.ledger.service import Read
from ringwright.people.screen import AtScreen

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """The run that is laid over the corridor."""

    run: Run
    trace: Trace
    departure: Departure | None
    """Against the corridor of now."""


@router.get("/furnace/recipes/{recipe}/envelope", name="heatruns.envelope")
def envelope(
    request: Request, screen: AtScreen, recipe: str, revision: str = "", run: str = ""
) -> Response:
    """What do good runs of this recipe read, and would a bad one have been seen early?"""
    with screen.ledger.read(screen.site) as read:
        found = read_good_runs(read, recipe, revision)
        laid = _laid(read, found, run)
    lists = _lists(request)
    return page(
        request,
        "heatruns/envelope.html",
        found=found,
        laid=laid,
        drawing=_drawing(found, laid),
        lists=lists,
        told=FurnaceWords(words_for(request), figures_for(request)),
        states=STATES,
        answer=lists.answer(found),
        book=lists.book(found),
        screen=screen,
    )


@router.get("/furnace/recipes/{recipe}/envelope/file.{form}", name="heatruns.envelope_file")
def envelope_file(
    request: Request,
    screen: AtScreen,
    recipe: str,
    form: str,
    revision: str = "",
    sheet: str | None = None,
) -> Response:
    """The back test as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_good_runs(read, recipe, revision)
    return file_answer(request, _lists(request).book(found), form, sheet)


def _lists(request: Request) -> EnvelopeLists:
    return EnvelopeLists(words_for(request), figures_for(request), partial(path_for, request))


def _drawing(found: GoodRuns, laid: Laid | None) -> CorridorDrawing | None:
    if found.envelope is None:
        return None
    trace, departure = (laid.trace, laid.departure) if laid else (None, None)
    return draw_corridor(found.envelope, trace, departure)


def _laid(read: Read, found: GoodRuns, code: str) -> Laid | None:
    """The run asked for, else one that goes on or waits for its review; raises Missing."""
    if found.envelope is None:
        return None
    run = _asked(read, found, code) if code else _going_on(read, found)
    if run is None:
        return None
    trace = trace_in_cycle(read, run, failed_of(read, run, found.recipe))
    if trace is None or not trace.size:
        return None
    return Laid(run=run, trace=trace, departure=first_departure(trace, found.envelope))


def _asked(read: Read, found: GoodRuns, code: str) -> Run:
    run = read_run(read.connection, read.site.id, code)
    asked = (found.recipe.code, found.recipe.revision)
    if run is None or (run.recipe, run.revision) != asked:
        raise Missing(f"there is no run {code[:60]} of {asked[0]} revision {asked[1]}")
    return run


def _going_on(read: Read, found: GoodRuns) -> Run | None:
    which = Which(recipe=found.recipe.code, states=TAKES_READINGS)
    runs = read_runs(read.connection, read.site.id, which)
    own = [one for one in runs if one.revision == found.recipe.revision and one.batches]
    return own[0] if own else None
