"""One furnace run: its page, its acts, the recorder's file."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.bench.forms import clean_scan
from ringwright.bench.queries import find_serial
from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.furnaces.rules import FINISHED, LOADING, RUNNING, TAKES_READINGS
from ringwright.heatruns.recorder_columns import PRESSURES, TEMPERATURES
from ringwright.heatruns.review import Accept, Close
from ringwright.heatruns.run_board import RunBoard, known_run, ptag_of, read_run_board
from ringwright.heatruns.run_sheets import BREAKS_SHOWN, RunSheets, question
from ringwright.heatruns.run_words import CAUTION, RunWords
from ringwright.heatruns.running import Abort, Finish, Load, Start, Unload
from ringwright.heatruns.upload import Looked, keeping, look_at
from ringwright.kit.forms import NOTHING, Given, Sent, new_key
from ringwright.kit.render import (
    figures_for,
    file_answer,
    fragment,
    page,
    path_for,
    wants_fragment,
    words_for,
)
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of

router = APIRouter(include_in_schema=False)

AS_IT_SHOULD_BE: Final = "as it should be"
BAD_SHOWN: Final = 50
_FORM: Final = re.compile(r"[0-9a-f-]{1,40}")


@router.get("/furnace/runs/{run:path}/file.{form}", name="heatruns.run_file")
def run_file(
    request: Request, screen: AtScreen, run: str, form: str, sheet: str | None = None
) -> Response:
    """The run's figures as a file."""
    with screen.ledger.read(screen.site) as read:
        board = read_run_board(read, run)
    return file_answer(request, _sheets(request, board).book(board), form, sheet)


@router.post("/furnace/runs/{run:path}/acts", name="heatruns.act")
def act(request: Request, screen: AtScreen, run: str, sent: Sent) -> Response:
    """Load, unload, start, finish, give up, accept, close."""
    title, do = _ACTS.get(sent.text("act"), (N_("Not done"), _unknown))
    answers: list[dict[str, Any]] = []

    def tell(screen: Screen, sent: Given) -> object:
        answers.append(do(screen, sent, run=run))
        return answers[-1]

    tried = attempt(screen, sent, title, tell)
    if tried is not None:
        return _drawn(request, screen, run, tried)
    done = {"done": sent.text("act"), "of": answers[0].get("serial")}
    return RedirectResponse(path_for(request, "heatruns.run", run=run, **done), 303)


@router.post("/furnace/runs/{run:path}/readings", name="heatruns.upload")
def upload(request: Request, screen: AtScreen, run: str, sent: Sent) -> Response:
    """Look at the recorder's file; keep it when told to."""
    looked, trouble = None, None
    try:
        with screen.ledger.read(screen.site) as read:
            looked = look_at(read, run, sent)
        if sent.text("act") == "keep":
            command = keeping(looked, sent, key_of(sent))
            answer = screen.ledger.execute(screen.site, command, screen.actor)
            told = {"done": "keep", "of": answer["samples"]}
            return RedirectResponse(path_for(request, "heatruns.run", run=run, **told), 303)
    except RingwrightError as error:
        trouble = error
    return _looked(request, screen, run, (sent, looked, trouble))


@router.get("/furnace/runs/{run:path}", name="heatruns.run")
def show_run(request: Request, screen: AtScreen, run: str) -> Response:
    """What does this run do, and is its cycle proved? A panel gets the panel alone."""
    if _unchanged(request, screen, run):
        return Response(status_code=304)
    return _drawn(request, screen, run, None)


def _unchanged(request: Request, screen: Screen, run: str) -> bool:
    """True where the panel that asks shows the run's last entry and this minute already."""
    asked = request.headers.get("HX-PTag")
    if not wants_fragment(request) or asked is None:
        return False
    with screen.ledger.read(screen.site) as read:
        return asked == ptag_of(known_run(read, run), read.now_us)


def _unknown(_screen: Screen, _sent: Given, *, run: str) -> dict[str, Any]:
    raise Refused(f"that act is not known of {run[:60]}; open the page again")


def _execute(screen: Screen, command: Any) -> dict[str, Any]:
    return screen.ledger.execute(screen.site, command, screen.actor)


def _seen(sent: Given, run: str) -> dict[str, Any]:
    """What every act carries: the run, the form's key, the entry that was seen."""
    return {"run": run, "key": key_of(sent), "seen": sent.whole("seen")}


def _load(screen: Screen, sent: Given, *, run: str) -> dict[str, Any]:
    scanned = clean_scan(sent.text("serial"))
    if not scanned:
        raise Refused("scan the part that is laid in")
    with screen.ledger.read(screen.site) as read:
        serial = find_serial(read, scanned)
    command = Load(serial=serial, position=sent.text("position"), **_seen(sent, run))
    return _execute(screen, command)


def _unload(screen: Screen, sent: Given, *, run: str) -> dict[str, Any]:
    return _execute(screen, Unload(serial=sent.text("serial"), **_seen(sent, run)))


def _start(screen: Screen, sent: Given, *, run: str) -> dict[str, Any]:
    return _execute(screen, Start(**_seen(sent, run)))


def _abort(screen: Screen, sent: Given, *, run: str) -> dict[str, Any]:
    return _execute(screen, Abort(reason=sent.text("reason"), **_seen(sent, run)))


def _finish(screen: Screen, sent: Given, *, run: str) -> dict[str, Any]:
    text, at_us = sent.text("ended"), None
    if text:
        try:
            at_us = parse_instant(text, screen.zone)
        except ValueError as trouble:
            raise Refused(f"ended: {trouble}") from None
    return _execute(screen, Finish(at_us=at_us, **_seen(sent, run)))


def _accept(screen: Screen, sent: Given, *, run: str) -> dict[str, Any]:
    gas, thermocouples, coupons = (_looked_at(sent, name, word) for name, word in REVIEWED)
    command = Accept(gas=gas, thermocouples=thermocouples, coupons=coupons, **_seen(sent, run))
    return _execute(screen, command)


REVIEWED: Final = (
    ("gas", N_("gas")),
    ("thermocouples", N_("where the thermocouples lay")),
    ("coupons", N_("witness coupons")),
)
"""What a reviewer looks at beside the trace."""


def _looked_at(sent: Given, name: str, word: str) -> str:
    """What was found of one thing; raises Refused for what is not as it should be."""
    text = sent.text(name)
    if sent.text(f"{name}.good") == "1":
        return f"{AS_IT_SHOULD_BE}: {text}" if text else AS_IT_SHOULD_BE
    if text:
        raise Refused(
            f"{word}: what you wrote is not ticked as it should be. Do not accept the run: "
            "stop its parts at the Bench, each stop holds its part"
        )
    raise Refused(f"look at {word} too, and tick it as it should be")


def _close(screen: Screen, sent: Given, *, run: str) -> dict[str, Any]:
    return _execute(screen, Close(reason=sent.text("reason"), **_seen(sent, run)))


_ACTS: Final[dict[str, tuple[str, Callable[..., dict[str, Any]]]]] = {
    "load": (N_("Not loaded"), _load),
    "unload": (N_("Not taken out"), _unload),
    "start": (N_("Not started"), _start),
    "abort": (N_("Not given up"), _abort),
    "finish": (N_("Not ended"), _finish),
    "accept": (N_("Not accepted"), _accept),
    "close": (N_("Not closed"), _close),
}
DONE: Final = {
    "load": N_("%(of)s lies in"),
    "unload": N_("Taken out"),
    "start": N_("Started"),
    "abort": N_("Given up"),
    "finish": N_("Ended"),
    "accept": N_("Accepted"),
    "close": N_("Closed"),
    "keep": N_("%(of)s samples kept"),
}
"""What an act says once it is done."""


def _sheets(request: Request, board: RunBoard) -> RunSheets:
    told = RunWords(
        words_for(request), figures_for(request), board.drawn.zone, board.drawn.now_us
    )
    return RunSheets(told, partial(path_for, request))


def _drawn(request: Request, screen: Screen, run: str, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        board = read_run_board(read, run)
        ptag = ptag_of(board.run, read.now_us)
    shown = _shown(request, screen, board, tried)
    if wants_fragment(request) and tried is None:
        answer = fragment(request, "heatruns/_run.html", ptag=ptag, **shown)
        answer.headers["HX-PTag"] = ptag
        return answer
    if board.run.state == LOADING:
        # The field of this page takes every scan, so the head has none.
        shown["scan"] = None
    status = tried.status if tried else 200
    return page(request, "heatruns/run.html", status=status, ptag=ptag, **shown)


def _shown(
    request: Request, screen: Screen, board: RunBoard, tried: Tried | None
) -> dict[str, Any]:
    sheets = _sheets(request, board)
    asked = request.query_params
    form = asked.get("form", "")
    return {
        "board": board,
        "told": sheets.told,
        "question": question(sheets.told),
        "answer": sheets.told.answer(board),
        "segments": sheets.segments(board),
        "load_sheet": sheets.load(board),
        "limits": sheets.limits(board, BREAKS_SHOWN),
        "readings": sheets.readings(board),
        "screen": screen,
        "tried": tried,
        "given": tried.given if tried else NOTHING,
        # A panel asks with the key of its page, so that its forms are still the page's own.
        "form": form if _FORM.fullmatch(form) else new_key(),
        "done": _done(request, board, asked.get("done", ""), asked.get("of", "")),
        "caution": CAUTION,
        "reviewed": REVIEWED,
        "zone": board.drawn.zone,
        "takes_readings": board.run.state in TAKES_READINGS,
        "states": {"loading": LOADING, "running": RUNNING, "finished": FINISHED},
        "here": path_for(request, "heatruns.run", run=board.run.code),
    }


def _done(request: Request, board: RunBoard, act_done: str, of: str) -> str:
    """What the act that led here did; empty where none did, or where it is not so."""
    so = {"load": of in board.run.load, "keep": of.isascii() and of.isdigit() and len(of) < 9}
    if act_done not in DONE or not so.get(act_done, True):
        return ""
    return words_for(request)._(DONE[act_done], of=of)


def _looked(
    request: Request,
    screen: Screen,
    run: str,
    step: tuple[Given, Looked | None, RingwrightError | None],
) -> Response:
    given, looked, trouble = step
    with screen.ledger.read(screen.site) as read:
        found = known_run(read, run)
        zone, now_us = read.site.zone, read.now_us
    told = RunWords(words_for(request), figures_for(request), zone, now_us)
    return page(
        request,
        "heatruns/readings.html",
        status=trouble.status if trouble else 200,
        run=found,
        looked=looked,
        given=given,
        trouble=trouble,
        told=told,
        screen=screen,
        zone=zone,
        key=new_key(),
        temperatures=TEMPERATURES,
        pressures=PRESSURES,
        bad_shown=BAD_SHOWN,
        takes_readings=found.state in TAKES_READINGS,
    )
