"""Gauge studies: enter or upload one, and see what it found."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.gauges.register import read_register
from ringwright.gauges.studies import KeepStudy, Study, read_studies
from ringwright.gauges.study_file import COLUMNS, grid_text, read_study
from ringwright.gauges.study_lists import StudyLists, draw_study
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.typed import parse_figure
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import key_of

router = APIRouter(include_in_schema=False)

MOST_BYTES = 512 * 1024
USUAL = {"parts": 10, "operators": 3, "repeats": 2}
MOST = {"parts": 20, "operators": 5, "repeats": 5}


@router.get("/gauges/studies", name="gauges.studies")
def studies(request: Request, screen: AtScreen) -> Response:
    """Every study, and a form for a new one."""
    return _studies(request, screen, Given(fields={}, files={}), None)


@router.post("/gauges/studies", name="gauges.keep_study")
def keep(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Keep a study; refused, what was given stands in the form as text."""
    given = sent
    try:
        given = _with_text(sent)
        answer = screen.ledger.execute(screen.site, _command(given), screen.actor)
    except RingwrightError as trouble:
        return _studies(request, screen, given, trouble)
    onward = path_for(request, "gauges.study", number=answer["study"])
    return RedirectResponse(onward, 303)


@router.get("/gauges/studies/{number}", name="gauges.study")
def one_study(request: Request, screen: AtScreen, number: int) -> Response:
    """What one study found."""
    drawn, study = _found(screen, number)
    lists = _lists(request)
    return page(
        request,
        "gauges/study.html",
        screen=screen,
        study=study,
        drawn=drawn,
        answer=lists.answer(study),
        rule=lists.rule(study),
        table=lists.table(study),
        components=lists.components(study),
        picture=draw_study(study, figures_for(request)),
        zone=screen.zone,
    )


@router.get("/gauges/studies/{number}/file.{form}", name="gauges.study_file")
def study_file(
    request: Request, screen: AtScreen, number: int, form: str, sheet: str | None = None
) -> Response:
    """One study as a file."""
    drawn, study = _found(screen, number)
    return file_answer(request, _lists(request).book(study, drawn), form, sheet)


def _found(screen: Screen, number: int) -> tuple[Any, Study]:
    with screen.ledger.read(screen.site) as read:
        drawn = read_register(read).drawn
        study = next((one for one in read_studies(read) if one.number == number), None)
    if study is None:
        raise Missing(f"there is no gauge study {number}")
    return drawn, study


def _with_text(sent: Given) -> Given:
    """The form with its readings as text: of the file, else of the grid, else as typed."""
    upload = sent.files.get("file")
    if upload is not None and upload.content:
        text = upload.text(MOST_BYTES)
    else:
        grid = {name: sent.text(name) for name in sent.fields if "." in name}
        text = grid_text(grid) or sent.text("readings")
    return replace(sent, fields={**sent.fields, "readings": [text]}, files={})


def _command(given: Given) -> KeepStudy:
    if not given.text("gauge"):
        raise Refused("choose the gauge")
    return KeepStudy(
        gauge=given.text("gauge"),
        characteristic=given.text("characteristic"),
        unit=given.text("unit"),
        lower=_limit(given, "lower"),
        upper=_limit(given, "upper"),
        readings=tuple(read_study(given.text("readings"), _names(given))),
        note=given.text("note"),
        key=key_of(given),
    )


def _names(given: Given) -> dict[str, str]:
    """What the file's header calls its columns, where somebody said so."""
    told = {column: given.text(f"column_{column}").strip() for column in COLUMNS}
    return {column: name for column, name in told.items() if name}


def _limit(given: Given, name: str) -> float | None:
    text = given.text(name)
    return parse_figure(text, f"{name} limit") if text else None


def _lists(request: Request) -> StudyLists:
    return StudyLists(words_for(request), figures_for(request), partial(path_for, request))


def _size(request: Request, name: str) -> int:
    text = request.query_params.get(name, "")
    whole = int(text) if text.isascii() and text.isdigit() and len(text) < 4 else USUAL[name]
    return min(max(whole, 2), MOST[name])


def _studies(
    request: Request, screen: Screen, given: Given, trouble: RingwrightError | None
) -> Response:
    with screen.ledger.read(screen.site) as read:
        register = read_register(read)
        found = read_studies(read)
    size = {name: _size(request, name) for name in USUAL}
    return page(
        request,
        "gauges/studies.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        all=_lists(request).all(found, register.drawn),
        gauges=[line.gauge for line in register.lines],
        given=given,
        why=trouble.message if trouble else "",
        key=new_key(),
        size=size,
        rows={name: range(1, count + 1) for name, count in size.items()},
        grid="parts" in request.query_params,
        chosen=request.query_params.get("gauge", ""),
        zone=screen.zone,
    )
