"""A pool brought as a file, and longer searches: start, watch, stop."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.balance.units import (
    AXIAL_UNITS,
    FREQUENCY_UNITS,
    MASS_UNITS,
    MOMENT_UNITS,
    UNITS,
)
from ringwright.core.errors import BadRows, Forbidden, Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.flow.moment import to_the_minute
from ringwright.kit.forms import Given, Sent
from ringwright.kit.numbers import Figures
from ringwright.kit.render import figures_for, fragment, page, wants_fragment, words_for
from ringwright.kit.words import Words
from ringwright.people.screen import AtScreen, Screen
from ringwright.sets.asked import Asked, Links, asked_of, limits_of, number_of
from ringwright.sets.builder import Choice, read_choice
from ringwright.sets.rotor import floor_of
from ringwright.sets.run_question import RunQuestion
from ringwright.sets.run_store import GOING, KeptPool, RunNow, keep_pool
from ringwright.sets.runs import Asking, read_run, start_run, stop_run
from ringwright.sets.upload import Expected, Units, read_upload, slips

router = APIRouter(include_in_schema=False)

USUAL_SECONDS = 60.0
STATES = {
    "queued": N_("waits for its turn"),
    "running": N_("searches"),
    "done": N_("done"),
    "stopped": N_("stopped; the best so far is kept"),
    "broken off": N_("broken off"),
}
"""A run's states in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A run as its panel shows it."""

    run: RunNow
    state: str
    going: bool
    percent: str
    width: float
    sets: tuple[tuple[int, str, bool], ...]
    """(number, address, shown) of each set found."""
    found: str
    wants: tuple[str, ...]
    again: str
    """Where the page asks how far it is."""


def panel_of(request: Request, run: RunNow, words: Words, show: Figures) -> Panel:
    """How far a run is, or what it found."""
    answer = run.answer or {}
    asked = asked_of(request).put("run", run.code)
    links = Links(request, asked)
    shown = asked.whole("set", 1, max(len(answer.get("sets", ())), 1), 1)
    return Panel(
        run=run,
        state=words._(STATES[run.state]),
        going=run.state in GOING,
        percent=show.percent(run.share, 0),
        width=round(100 * min(max(run.share, 0.0), 1.0), 1),
        sets=tuple(
            (number, links.to(asked.less(("exchange", "answer")).put("set", str(number))),
             number == shown)
            for number in range(1, len(answer.get("sets", ())) + 1)
        ),
        found=_found(answer, words, show),
        wants=tuple(want_text(want, words, show) for want in answer.get("wants", ())),
        again=links.to(asked.less(("run",)), "sets.run", run=run.code),
    )  # fmt: skip


def _found(answer: dict[str, Any], words: Words, show: Figures) -> str:
    """How many sets, of how many at most, and whether that is proved."""
    if "sets" not in answer:
        return str(answer.get("trouble", ""))
    count, most = len(answer["sets"]), answer["bound"]["max_sets"]
    told = words.ngettext("%(n)s set", "%(n)s sets", count, n=show.count(count))
    if answer["bound"]["proved"]:
        rest = words._("no more than %(most)s are possible (proved)", most=show.count(most))
    else:
        rest = words._("at most %(most)s are possible", most=show.count(most))
    seconds = show.decimal(answer["seconds"], 1)
    left = show.count(answer["unused"])
    return words._(
        "%(told)s found; %(rest)s; %(left)s blades stay. Searched for %(seconds)s s.",
        told=told, rest=rest, left=left, seconds=seconds,
    )  # fmt: skip


def want_text(want: dict[str, Any], words: Words, show: Figures) -> str:
    """What so many blades of one kind would give."""
    kind = []
    if want["frequency_hz"]:
        low, high = (show.decimal(value, 2) for value in want["frequency_hz"])
        kind.append(words._("frequency %(low)s to %(high)s Hz", low=low, high=high))
    if want["moment_g_mm"]:
        low, high = (show.decimal(value, 0) for value in want["moment_g_mm"])
        kind.append(words._("moment %(low)s to %(high)s g·mm", low=low, high=high))
    blades = words.ngettext(
        "%(n)s blade more", "%(n)s blades more", want["blades"], n=show.count(want["blades"])
    )
    return words._(
        "%(blades)s (%(kind)s) would give %(sets)s sets; %(share)s of today's stock are such.",
        blades=blades, kind=", ".join(kind) or words._("any"), sets=show.count(want["sets"]),
        share=show.percent(want["share"], 0),
    )  # fmt: skip


@router.post("/sets/runs", name="sets.start_run")
def start(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Start a longer search on the blades and rules of the address."""
    asked = asked_of(request)
    may_build(screen)
    for name in ("sets", "effort"):
        asked = asked.put(name, sent.text(name)) if sent.text(name) else asked.less((name,))
    if not sent.text("sets"):
        asked = asked.put("sets", "max")
    with screen.ledger.read(screen.site) as read:
        choice = read_choice(to_the_minute(read), asked)
    question = run_question(choice, asked, sent)
    asking = Asking(
        site=screen.site,
        product=choice.product,
        pool=choice.source.pool,
        actor=screen.actor.code,
    )
    code = start_run(screen.ledger, asking, question)
    kept = asked.less(("answer", "set", "exchange", "run")).plus("run", code)
    return RedirectResponse(Links(request, kept).to(kept), 303)


def may_build(screen: Screen) -> None:
    """Raise Forbidden for whoever may not search at length."""
    _ = screen.actor
    if not screen.may("build sets"):
        raise Forbidden("a planner or supervisor builds sets; choose who acts first")


def run_question(choice: Choice, asked: Asked, sent: Given) -> RunQuestion:
    """What the run is asked; raises Refused."""
    if choice.slots is None:
        raise Refused("say how many slots the ring has, then start the run")
    seconds = number_of("seconds", sent.text("seconds"))
    return RunQuestion(
        pool=choice.pool,
        limits=limits_of(asked, choice.slots, choice.rotor),
        floor=floor_of(choice.rotor),
        sets=asked.sets,
        effort=asked.effort,
        seed=asked.seed,
        seconds=USUAL_SECONDS if seconds is None else seconds,
        prove=sent.text("prove") == "1",
    )


@router.get("/sets/runs/{run}", name="sets.run")
def show_run(request: Request, screen: AtScreen, run: str) -> Response:
    """How far a run is: its panel alone, or the page that holds it."""
    found = read_run(screen.ledger, screen.site, run)
    kept = _asked_of_run(asked_of(request), found)
    onward = Links(request, kept).to(kept)
    if not wants_fragment(request):
        return RedirectResponse(onward, 303)
    if not found.going:
        return Response(headers={"HX-Redirect": onward})
    panel = panel_of(request, found, words_for(request), figures_for(request))
    return fragment(request, "sets/_run.html", panel=panel, links=Links(request, kept))


def _asked_of_run(asked: Asked, run: RunNow) -> Asked:
    kept = asked.put("run", run.code)
    if run.product and not kept.text("product"):
        kept = kept.put("product", run.product)
    return kept.put("pool", run.pool) if run.pool else kept


@router.post("/sets/runs/{run}/stop", name="sets.stop_run")
def stop(request: Request, screen: AtScreen, run: str) -> Response:
    """End a run with the best it has."""
    may_build(screen)
    found = stop_run(screen.ledger, screen.site, run)
    kept = _asked_of_run(asked_of(request), found)
    return RedirectResponse(Links(request, kept).to(kept), 303)


@router.get("/sets/pool", name="sets.pool")
def pool(request: Request, screen: AtScreen) -> Response:
    """Bring a file of blades."""
    return _pool_page(request, screen, Given(fields={}, files={}))


@router.post("/sets/pool", name="sets.bring_pool")
def bring(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Read the file, check it against the product's blades, keep it, build from it."""
    try:
        may_build(screen)
        kept = _kept(screen, sent)
        with screen.ledger.read(screen.site) as read:
            site_id = read.site.id
        now_us = screen.ledger.clock.now_us()
        with screen.ledger.store.write(site_id) as connection:
            code = keep_pool(connection, site_id, kept, screen.actor.code, now_us)
    except RingwrightError as trouble:
        return _pool_page(request, screen, sent, trouble)
    asked = Asked((("pool", code),))
    asked = asked.plus("product", kept.product) if kept.product else asked
    asked = asked.plus("slots", sent.text("slots")) if sent.text("slots") else asked
    return RedirectResponse(Links(request, asked).to(asked), 303)


def _kept(screen: Screen, sent: Given) -> KeptPool:
    """The file as a pool; raises Refused for slips that nobody has said are right."""
    file = sent.files.get("file")
    if file is None or not file.content:
        raise Refused("choose a file first")
    given = {kind: sent.text(kind) for kind in ("moment", "frequency", "axial", "mass")}
    units = Units(**{kind: unit for kind, unit in given.items() if unit})
    found = read_upload(file, units)
    product = sent.text("product")
    told = slips(found, _expected(screen, product), units)
    if told and sent.text("sure") != "1":
        raise Refused("; ".join(told), code="slip")
    return KeptPool(code="", name=file.name[:200], product=product, blades=found.blades)


def _expected(screen: Screen, product: str) -> Expected:
    """What the product's finished blades weigh and sound like: the medians of the stock."""
    if not product:
        return Expected()
    with screen.ledger.read(screen.site) as read:
        choice = read_choice(read, Asked((("product", product),)))
    moments = [blade.moment_g_mm for blade in choice.pool.blades]
    tones = [b.frequency_hz for b in choice.pool.blades if b.frequency_hz is not None]
    return Expected(
        moment_g_mm=statistics.median(moments) if moments else None,
        frequency_hz=statistics.median(tones) if tones else None,
    )


def _pool_page(
    request: Request, screen: Screen, sent: Given, trouble: RingwrightError | None = None
) -> Response:
    with screen.ledger.read(screen.site) as read:
        products = read_choice(read, Asked()).products
    words = words_for(request)
    kinds = {
        "moment": MOMENT_UNITS,
        "frequency": FREQUENCY_UNITS,
        "axial": AXIAL_UNITS,
        "mass": MASS_UNITS,
    }
    return page(
        request,
        "sets/pool.html",
        status=trouble.status if trouble else 200,
        trouble=trouble,
        lines=trouble.problems[:500] if isinstance(trouble, BadRows) else [],
        slip=trouble is not None and trouble.code == "slip",
        sent=sent,
        screen=screen,
        then="sets.pool",
        products=products,
        product=sent.text("product") or asked_of(request).text("product"),
        links=Links(request, Asked()),
        units={kind: [(u, words._(UNITS[u])) for u in known] for kind, known in kinds.items()},
    )
