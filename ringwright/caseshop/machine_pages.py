"""One machine with its spindle log and the acts that write it; what machining needs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.caseshop.lists import CaseLists
from ringwright.caseshop.queries import Stay, read_ground, read_stays
from ringwright.caseshop.week import Stop, stops_of
from ringwright.caseshop.words import CAUTION, STATES, CaseWords
from ringwright.core.errors import Missing
from ringwright.core.glossary import N_
from ringwright.kit.cutoff import Snapshot
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.sheets import Sheet
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.machines.card import REASONS
from ringwright.machines.queries import (
    read_fixtures,
    read_last_notes,
    read_logs,
    read_machining,
)
from ringwright.machines.rules import OFF, STOPPED, Noted, clipped, spans_of, state_after
from ringwright.machines.service import LoadMachining, LogSpindle
from ringwright.machines.toml import parse_machining
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.sites.site import Station

router = APIRouter(include_in_schema=False)
LINES: Final = 50
"""Lines of a log that the page shows."""
WEEKS_US: Final = 4 * 7 * 24 * 3_600_000_000
"""How far back the reasons are counted."""
MOST_BYTES: Final = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineSheet:
    """One machine as it stands."""

    station: Station
    state: str
    goes_on: bool
    """True where a stop in force broke something off."""
    last: Noted | None
    stay: Stay | None
    log: tuple[Noted, ...]
    stops: tuple[Stop, ...]
    """Of the last four weeks."""
    drawn: Snapshot


def read_machine_sheet(read: Read, code: str) -> MachineSheet:
    """One machine of the case shop; raises Missing."""
    ground = read_ground(read)
    station = next((one for one in ground.stations if one.code == code), None)
    if station is None:
        raise Missing(f"there is no machine {code[:60]} in the case shop")
    log = read_last_notes(read.connection, read.site.id, code, LINES)
    state, before = state_after(log)
    stays = read_stays(read, ground, read.now_us, read.now_us + 1)
    window = (read.now_us - WEEKS_US, read.now_us + 1)
    lately = read_logs(read.connection, read.site.id, [code], window)[code]
    spans = clipped(spans_of(lately, read.now_us), *window)
    return MachineSheet(
        station=station,
        state=state,
        goes_on=state == STOPPED and before != OFF,
        last=log[-1] if log else None,
        stay=next((one for one in stays if one.station == code and one.on), None),
        log=tuple(log),
        stops=stops_of([(code, spans)]),
        drawn=snapshot_of(read, to_the_minute=True),
    )


@router.get("/case/machines/{station}", name="caseshop.machine")
def machine(request: Request, screen: AtScreen, station: str) -> Response:
    """What does this machine do now, and why did it stand?"""
    return _machine(request, screen, station, None)


@router.get("/case/machines/{station}/file.{form}", name="caseshop.machine_file")
def machine_file(
    request: Request, screen: AtScreen, station: str, form: str, sheet: str | None = None
) -> Response:
    """Its log and its reasons as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_machine_sheet(read, station)
    lists = _lists(request, screen)
    question = lists.words._("What did this machine do, and why did it stand?")
    sheets = (_stops(lists, found), lists.log(found.log))
    answer = _answer(lists.told, found)
    book = lists.book(f"machine {station}", question, found.drawn, answer, *sheets)
    return file_answer(request, book, form, sheet)


@router.post("/case/machines/{station}", name="caseshop.machine_act")
def act(request: Request, screen: AtScreen, station: str, sent: Sent) -> Response:
    """Log set-up, cutting, a stop with its reason, going on, or off."""

    def do(screen: Screen, given: Given) -> object:
        command = LogSpindle(
            station=station, act=given.text("act"), reason=given.text("reason"),
            text=given.text("text"), key=key_of(given),
        )  # fmt: skip
        return screen.ledger.execute(screen.site, command, screen.actor)

    tried = attempt(screen, sent, N_("Not logged"), do)
    if tried is not None:
        return _machine(request, screen, station, tried)
    return RedirectResponse(path_for(request, "caseshop.machine", station=station), 303)


@router.get("/case/needs", name="caseshop.needs")
def needs(request: Request, screen: AtScreen) -> Response:
    """What does each machining step need, and how many fixtures are there?"""
    return _needs(request, screen, None)


@router.post("/case/needs", name="caseshop.needs_act")
def load(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Load a machining plan from its TOML file, or as typed."""

    def do(screen: Screen, given: Given) -> object:
        upload = given.files.get("file")
        text = upload.text(MOST_BYTES, ("toml", "txt")) if upload else given.text("toml")
        file = parse_machining(text, upload.name if upload else "")
        command = LoadMachining(file=file, key=key_of(given))
        return screen.ledger.execute(screen.site, command, screen.actor)

    tried = attempt(screen, sent, N_("Machining plan not loaded"), do)
    if tried is not None:
        return _needs(request, screen, tried)
    return RedirectResponse(path_for(request, "caseshop.needs"), 303)


def _lists(request: Request, screen: Screen) -> CaseLists:
    link = partial(path_for, request)
    return CaseLists(words_for(request), figures_for(request), link, screen.zone)


def _stops(lists: CaseLists, found: MachineSheet) -> Sheet:
    return lists.stops(found.stops, lists.words._("Why it stood, the last four weeks"))


def _answer(told: CaseWords, found: MachineSheet) -> str:
    _, code = told.words._, found.station.code
    if found.state == STOPPED and found.last is not None:
        why = _(REASONS[found.last.reason]) if found.last.reason else _(STATES[STOPPED])
        return _("%(code)s is stopped: %(why)s", code=code, why=why)
    state = _(STATES[found.state])
    if found.stay is None:
        return _("%(code)s: %(state)s, nothing is on", code=code, state=state)
    serial = found.stay.serial
    return _("%(code)s: %(state)s, %(serial)s is on", code=code, state=state, serial=serial)


def _machine(request: Request, screen: Screen, code: str, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = read_machine_sheet(read, code)
    lists = _lists(request, screen)
    return page(
        request,
        "caseshop/machine.html",
        status=tried.status if tried else 200,
        found=found,
        answer=_answer(lists.told, found),
        needs_person=found.state == STOPPED,
        told=lists.told,
        stops=_stops(lists, found),
        log=lists.log(found.log),
        reasons=REASONS,
        caution=CAUTION,
        screen=screen,
        zone=screen.zone,
        tried=tried,
        given=tried.given if tried else Given(fields={}, files={}),
        key=new_key(),
    )


def _needs(request: Request, screen: Screen, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        plans = tuple(read_machining(read.connection, read.site.id).values())
        fixtures = tuple(read_fixtures(read.connection, read.site.id).values())
        drawn = snapshot_of(read, to_the_minute=True)
    lists = _lists(request, screen)
    steps = sum(len(plan.needs) for plan in plans)
    answer = lists.words.ngettext(
        "%(n)s machining step has a plan", "%(n)s machining steps have a plan", steps
    )
    return page(
        request,
        "caseshop/needs.html",
        status=tried.status if tried else 200,
        answer=answer,
        plans=lists.needs(plans),
        fixtures=lists.fixtures(fixtures),
        drawn=drawn,
        screen=screen,
        zone=screen.zone,
        tried=tried,
        given=tried.given if tried else Given(fields={}, files={}),
        key=new_key(),
    )
