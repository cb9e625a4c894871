"""Gauges: which may decide, check one on its master, record a calibration, trust readings."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.core.instants import iso_text
from ringwright.gauges import study_pages
from ringwright.gauges.lists import CHECKS_SHOWN, GaugeLists
from ringwright.gauges.register import GaugeSheet, read_gauge_sheet, read_register
from ringwright.gauges.service import CheckGauge, Trust
from ringwright.gauges.words import STATES, GaugeWords
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import figures_for, file_answer, page, path_for, words_for
from ringwright.kit.typed import parse_figure
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.sites.gauging import Calibrate, SetGauge, SetMaster
from ringwright.sites.site import Calibration, Gauge, Master

router = APIRouter(include_in_schema=False)
# Before the gauges themselves, whose codes could say "studies".
router.routes.extend(study_pages.router.routes)


@router.get("/gauges", name="gauges.register")
def register(request: Request, screen: AtScreen) -> Response:
    """Which gauges may decide, and what is to be checked this shift."""
    return _register(request, screen, None)


@router.get("/gauges/file.{form}", name="gauges.file")
def register_file(
    request: Request, screen: AtScreen, form: str, sheet: str | None = None
) -> Response:
    """The register as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_register(read)
    return file_answer(request, _lists(request).book(found), form, sheet)


@router.post("/gauges", name="gauges.set")
def set_one(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Put a gauge or a master on the register, or change what it says there."""
    tried = _tried(screen, sent)
    if tried is None:
        return RedirectResponse(path_for(request, "gauges.register"), 303)
    return _register(request, screen, tried)


@router.post("/gauges/checks", name="gauges.check")
def check(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Hold a gauge to its master."""
    given = Given(fields={**sent.fields, "act": ["check"]}, files={})
    tried = _tried(screen, given)
    if tried is None:
        told = {"checked": sent.text("gauge")}
        return RedirectResponse(path_for(request, "gauges.register", **told), 303)
    return _register(request, screen, tried)


@router.get("/gauges/{gauge}", name="gauges.one")
def one_gauge(request: Request, screen: AtScreen, gauge: str) -> Response:
    """One gauge: may it decide, what was found of it, what is suspect."""
    return _one(request, screen, gauge, None)


@router.get("/gauges/{gauge}/file.{form}", name="gauges.one_file")
def one_file(
    request: Request, screen: AtScreen, gauge: str, form: str, sheet: str | None = None
) -> Response:
    """One gauge's calibrations, checks and suspect readings as a file."""
    with screen.ledger.read(screen.site) as read:
        found = read_gauge_sheet(read, gauge)
    return file_answer(request, _lists(request).book_of(found), form, sheet)


@router.post("/gauges/{gauge}/calibrations", name="gauges.calibrate")
def calibrate(request: Request, screen: AtScreen, gauge: str, sent: Sent) -> Response:
    """Record a calibration."""
    return _of_one(request, screen, (gauge, "calibrate"), sent)


@router.post("/gauges/{gauge}/trusts", name="gauges.trust")
def trust(request: Request, screen: AtScreen, gauge: str, sent: Sent) -> Response:
    """Let suspect readings stand after all."""
    return _of_one(request, screen, (gauge, "trust"), sent)


def _of_one(request: Request, screen: Screen, what: tuple[str, str], sent: Given) -> Response:
    code, act = what
    given = Given(fields={**sent.fields, "gauge": [code], "act": [act]}, files={})
    tried = _tried(screen, given)
    if tried is None:
        return RedirectResponse(path_for(request, "gauges.one", gauge=code), 303)
    return _one(request, screen, code, tried)


def _tried(screen: Screen, sent: Given) -> Tried | None:
    act = sent.text("act")
    title, do = _ACTS.get(act, (N_("Not done"), _unknown))
    return attempt(screen, sent, title, do)


def _unknown(_screen: Screen, _sent: Given) -> object:
    raise Refused("that act is not known here; open the page again")


def _set_gauge(screen: Screen, sent: Given) -> object:
    gauge = Gauge(
        code=sent.text("code"),
        kind=sent.text("kind"),
        name=sent.text("name"),
        unit=sent.text("unit"),
        uncertainty=_figure(sent, "uncertainty"),
        resolution=_figure(sent, "resolution"),
        station=sent.text("station"),
        also=_also(sent.text("also")),
        withdrawn=bool(sent.text("withdrawn")),
    )
    return _execute(screen, SetGauge(gauge=gauge, key=key_of(sent)))


def _set_master(screen: Screen, sent: Given) -> object:
    master = Master(
        code=sent.text("code"),
        gauge_kind=sent.text("gauge_kind"),
        unit=sent.text("unit"),
        value=_needed(sent, "value"),
        allowed=_needed(sent, "allowed"),
        name=sent.text("name"),
        withdrawn=bool(sent.text("withdrawn")),
    )
    return _execute(screen, SetMaster(master=master, key=key_of(sent)))


def _check(screen: Screen, sent: Given) -> object:
    command = CheckGauge(
        gauge=sent.text("gauge"),
        master=sent.text("master"),
        value=_needed(sent, "value"),
        note=sent.text("note"),
        key=key_of(sent),
    )
    return _execute(screen, command)


def _calibrate(screen: Screen, sent: Given) -> object:
    if sent.text("found") not in ("good", "failed"):
        raise Refused("say whether the calibration found it good or failed")
    one = Calibration(
        gauge=sent.text("gauge"),
        on=sent.text("on"),
        due=sent.text("due"),
        good=sent.text("found") == "good",
        certificate=sent.text("certificate"),
        uncertainty=_figure(sent, "uncertainty"),
        note=sent.text("note"),
    )
    return _execute(screen, Calibrate(calibration=one, key=key_of(sent)))


def _trust(screen: Screen, sent: Given) -> object:
    command = Trust(
        gauge=sent.text("gauge"),
        reason=sent.text("reason"),
        serials=tuple(sent.text("serials").split()),
        key=key_of(sent),
    )
    return _execute(screen, command)


def _execute(screen: Screen, command: Any) -> object:
    return screen.ledger.execute(screen.site, command, screen.actor)


_ACTS: Final[dict[str, tuple[str, Callable[[Screen, Given], object]]]] = {
    "gauge": (N_("Gauge not kept"), _set_gauge),
    "master": (N_("Master not kept"), _set_master),
    "check": (N_("Check not kept"), _check),
    "calibrate": (N_("Calibration not kept"), _calibrate),
    "trust": (N_("Readings stay suspect"), _trust),
}


def _also(text: str) -> dict[str, float]:
    """Other units with their uncertainties, as `deg 0.02, um 3`."""
    found: dict[str, float] = {}
    for piece in filter(None, (one.strip() for one in text.split(","))):
        unit, blank, figure = piece.partition(" ")
        if not blank or unit in found:
            raise Refused(f"other units {piece[:40]!r}: write a unit once, a blank, a figure")
        found[unit] = parse_figure(figure, f"uncertainty in {unit}")
    return found


def _figure(sent: Given, name: str) -> float | None:
    text = sent.text(name)
    return parse_figure(text, name) if text else None


def _needed(sent: Given, name: str) -> float:
    found = _figure(sent, name)
    if found is None:
        raise Refused(f"{name} is missing")
    return found


def _lists(request: Request) -> GaugeLists:
    return GaugeLists(words_for(request), figures_for(request), partial(path_for, request))


def _shown(screen: Screen, tried: Tried | None) -> dict[str, Any]:
    return {
        "status": tried.status if tried else 200,
        "screen": screen,
        "tried": tried,
        "given": tried.given if tried else Given(fields={}, files={}),
        "key": new_key(),
        "zone": screen.zone,
        "states": STATES,
    }


def _register(request: Request, screen: Screen, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = read_register(read)
    lists = _lists(request)
    checked = request.query_params.get("checked", "")
    return page(
        request,
        "gauges/register.html",
        found=found,
        answer=lists.answer(found),
        gauges=lists.register(found),
        masters=lists.masters(found),
        to_check=found.to_check(screen.station_code),
        why=GaugeWords(words_for(request), figures_for(request)).why,
        checked=next((one for one in found.lines if one.gauge.code == checked), None),
        **_shown(screen, tried),
    )


def _one(request: Request, screen: Screen, code: str, tried: Tried | None) -> Response:
    with screen.ledger.read(screen.site) as read:
        found = read_gauge_sheet(read, code)
    lists = _lists(request)
    return page(
        request,
        "gauges/one.html",
        found=found,
        answer=lists.answer_of(found),
        calibrations=lists.calibrations(found),
        checks=lists.checks(found, CHECKS_SHOWN),
        suspects=lists.suspects(found),
        asked=_question(found, screen.zone),
        **_shown(screen, tried),
    )


def _question(found: GaugeSheet, zone: str) -> dict[str, str]:
    """What Traceability is asked: all it read since its last good calibration."""
    asked = {"gauge": found.gauge.code}
    if found.since_us is not None:
        asked["from"] = iso_text(found.since_us, zone)
    return asked
