"""Ground rules: what the numbers and the Bench stand on, shown and set by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.ground import authorisation_pages
from ringwright.ground.forms import overtime_line, shift_line
from ringwright.ground.queries import GroundSheet, read_ground, read_route
from ringwright.ground.service import Told, as_given, load, practise, set_rule
from ringwright.ground.words import KIND_WORDS, STEP_KIND_WORDS
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import page, path_for
from ringwright.people import callout_pages
from ringwright.people.auditing import Line, note
from ringwright.people.rules import PERMISSIONS
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.visitor import asker_of, here
from ringwright.people.words import PERMISSION_WORDS, ROLE_WORDS
from ringwright.routecards.caution import step_caution
from ringwright.sites.site import ROLES, Calendar, Person, Station

router = APIRouter(include_in_schema=False)
# Side by side rather than nested: the frame lists the routes of a room's one router.
router.routes.extend(authorisation_pages.router.routes)
router.routes.extend(callout_pages.router.routes)


@router.get("/ground", name="ground.rules")
def rules(
    request: Request, screen: AtScreen, kind: str | None = None, code: str | None = None
) -> Response:
    """Everything that was laid down, and the forms to change it; one thing opened to change."""
    return _rules_page(request, screen, None, (kind or "", code or ""))


@router.post("/ground/rules", name="ground.set")
def set_by_hand(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Add or change a person, a station or a calendar."""
    told = set_rule(screen, sent)
    if told.kind == "person" and told.said == "set":
        _note_roles(request, screen, sent.text("code"), ", ".join(sent.texts("roles")))
    return _rules_page(request, screen, told, ("", ""))


@router.post("/ground/files", name="ground.load")
def load_file(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Take in a route card, a site or a history, chosen or pasted."""
    told = load(screen, sent)
    if told.kind == "site" and told.said == "loaded" and told.count:
        _note_roles(request, screen, told.code, "site file")
    return _rules_page(request, screen, told, ("", ""))


@router.post("/ground/practice", name="ground.practice")
def practice_site(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Open the practice site beside this one, or bring it up to these rules, and go there."""
    told = practise(screen, sent)
    if told.status == 200:
        there = path_for(request, "ground.rules", site=told.code)
        return RedirectResponse(f"{there}#practice", 303)
    return _rules_page(request, screen, told, ("", ""))


@router.get("/ground/routes/{product:path}", name="ground.route")
def route(
    request: Request, screen: AtScreen, product: str, revision: str | None = None
) -> Response:
    """A route card, printed as one."""
    with screen.ledger.read(screen.site) as read:
        found, shown = read_route(read, product, revision or None)
    told: dict[str, Any] = {
        "caution": step_caution,
        "kinds": STEP_KIND_WORDS,
        "zone": screen.zone,
    }
    return page(request, "ground/route.html", product=found, shown=shown, **told)


def _note_roles(request: Request, screen: Screen, subject: str, why: str) -> None:
    """A change of roles is a change of who may what: the audit of the doors has it too."""
    line = Line(kind="roles", actor=screen.actor.code, subject=subject, why=why)
    note(screen.ledger, here(request).site_id, asker_of(request), line)


def _rules_page(
    request: Request, screen: Screen, told: Told | None, opened: tuple[str, str]
) -> Response:
    with screen.ledger.read(_site_now(screen, told)) as read:
        sheet = read_ground(read)
    refused = told is not None and told.status != 200
    return page(
        request,
        "ground/rules.html",
        status=told.status if told else 200,
        screen=screen,
        sheet=sheet,
        told=told,
        refused=refused,
        forms=_forms(sheet, told, opened),
        opened=(told.kind if told and refused else opened[0]),
        key=new_key(),
        shift_line=shift_line,
        overtime_line=overtime_line,
        roles=ROLES,
        permissions=PERMISSIONS,
        words_of_permissions=PERMISSION_WORDS,
        words_of_roles=ROLE_WORDS,
        words_of_kinds=KIND_WORDS,
    )


def _site_now(screen: Screen, told: Told | None) -> str:
    """A bare site takes the code of the site file that was loaded into it."""
    loaded = told is not None and told.kind == "site" and told.said == "loaded"
    return told.code if told and loaded else screen.site


def _forms(
    sheet: GroundSheet, told: Told | None, opened: tuple[str, str]
) -> Mapping[str, Given]:
    """What stands in each form: as typed when refused, as it is when opened, else empty."""
    forms: dict[str, Given] = {kind: as_given(None) for kind in KIND_WORDS}
    things: dict[str, Any] = {
        "person": {p.code: p for p in sheet.people},
        "station": {s.code: s for s in sheet.stations},
        "calendar": {code: rows[-1] for code, rows in sheet.calendars.items()},
    }
    kind, code = opened
    thing: Person | Station | Calendar | None = things.get(kind, {}).get(code)
    if thing is not None:
        forms[kind] = as_given(thing)
    if told is not None and told.status != 200 and told.kind in forms:
        forms[told.kind] = told.given
    return forms
