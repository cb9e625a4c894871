"""Whom to call, temporary permissions and their review. No address here books on a GET."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ringwright.core.errors import Forbidden, Refused
from ringwright.core.glossary import N_
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import page, path_for
from ringwright.people.callout import MOST_CALLS, read_callout_sheet
from ringwright.people.contacts import Contact, erase_contact, keep_contact
from ringwright.people.permits import EndPermit, GrantPermit, ReviewPermit, SetCallout
from ringwright.people.rules import GRANTABLE, MOST_HOURS
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import Tried, attempt, key_of
from ringwright.people.words import PERMISSION_WORDS, ROLE_WORDS

router = APIRouter(include_in_schema=False)
HOURS: Final = (1, 2, 4, 8, MOST_HOURS)


@router.get("/callout", name="people.callout")
def callout(request: Request, screen: AtScreen, need: str = "") -> Response:
    """Whom to call now, for what; what was permitted for a time."""
    return _page(request, screen, need)


@router.post("/callout/lists", name="people.set_callout")
def set_callout(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Set who is called for a role, in order."""
    return _tried(request, screen, sent, (N_("List not set"), _set_callout))


@router.post("/callout/permits", name="people.grant_permit")
def grant_permit(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Let one person do one thing more for some hours."""
    return _tried(request, screen, sent, (N_("Not granted"), _grant))


@router.post("/callout/ends", name="people.end_permit")
def end_permit(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """End a temporary permission before its time."""
    return _tried(request, screen, sent, (N_("Not ended"), _end))


@router.post("/callout/reviews", name="people.review_permit")
def review_permit(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Agree with a temporary permission, or say what is done about it."""
    return _tried(request, screen, sent, (N_("Not reviewed"), _review))


@router.post("/callout/contacts", name="people.keep_contact")
def keep(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Keep a person's name and telephone number, beside the record."""
    return _tried(request, screen, sent, (N_("Not kept"), _keep))


@router.post("/callout/erasures", name="people.erase_contact")
def erase(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Forget a person's name and telephone number."""
    return _tried(request, screen, sent, (N_("Not erased"), _erase))


def _execute(screen: Screen, command: object) -> object:
    return screen.ledger.execute(screen.site, command, screen.actor)  # type: ignore[arg-type]


def _set_callout(screen: Screen, sent: Given) -> object:
    calls = [sent.text(f"call{place}") for place in range(1, MOST_CALLS + 1)]
    people = tuple(code for code in calls if code)
    return _execute(screen, SetCallout(role=sent.text("role"), people=people, key=key_of(sent)))


def _grant(screen: Screen, sent: Given) -> object:
    command = GrantPermit(
        person=sent.text("person"),
        permission=sent.text("permission"),
        reason=sent.text("reason"),
        hours=sent.whole("hours") or 0,
        key=key_of(sent),
    )
    return _execute(screen, command)


def _end(screen: Screen, sent: Given) -> object:
    command = EndPermit(code=sent.text("code"), reason=sent.text("reason"), key=key_of(sent))
    return _execute(screen, command)


def _review(screen: Screen, sent: Given) -> object:
    said = sent.text("agreed")
    if said not in ("yes", "no"):
        raise Refused("say whether you agree")
    command = ReviewPermit(
        code=sent.text("code"),
        agreed=said == "yes",
        note=sent.text("note"),
        key=key_of(sent),
    )
    return _execute(screen, command)


def _keep(screen: Screen, sent: Given) -> None:
    site_id = _for_contacts(screen)
    contact = Contact(
        code=sent.text("person"), name=sent.text("name"), phone=sent.text("phone")
    )
    keep_contact(screen.ledger.store, site_id, contact)


def _erase(screen: Screen, sent: Given) -> None:
    erase_contact(screen.ledger.store, _for_contacts(screen), sent.text("person"))


def _for_contacts(screen: Screen) -> int:
    """The site's number for whoever may keep names; no command, as no entry is made."""
    _ = screen.actor
    if not screen.may("contacts"):
        raise Forbidden("names and telephone numbers are the administrator's to keep")
    with screen.ledger.read(screen.site) as read:
        return read.site.id


def _tried(
    request: Request,
    screen: Screen,
    sent: Given,
    what: tuple[str, Callable[[Screen, Given], object]],
) -> Response:
    title, do = what
    tried = attempt(screen, sent, title, do)
    if tried is None:
        return RedirectResponse(path_for(request, "people.callout"), 303)
    return _page(request, screen, "", tried)


def _page(request: Request, screen: Screen, need: str, tried: Tried | None = None) -> Response:
    with screen.ledger.read(screen.site) as read:
        sheet = read_callout_sheet(read, need)
    return page(
        request,
        "people/callout.html",
        status=tried.status if tried else 200,
        screen=screen,
        sheet=sheet,
        tried=tried,
        given=tried.given if tried else Given(fields={}, files={}),
        key=new_key(),
        places=tuple(range(1, MOST_CALLS + 1)),
        hours=HOURS,
        grantable=GRANTABLE,
        words_of_permissions=PERMISSION_WORDS,
        words_of_roles=ROLE_WORDS,
        zone=screen.zone,
    )
