"""Set a ground rule by hand, or take in a file; a refusal is told with what was typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.errors import BadRows, Forbidden, Refused, RingwrightError
from ringwright.core.instants import known_zone
from ringwright.ground.forms import overtime_line, shift_line, thing_of
from ringwright.ground.practice import MOST_PARTS, open_practice
from ringwright.kit.forms import Given
from ringwright.ledger.service import BARE_SITE
from ringwright.people.screen import Screen
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.queries import read_calendar_codes
from ringwright.sites.service import ExtendSite, SetGroundRule
from ringwright.sites.site import Calendar, Person, Station
from ringwright.sites.toml import parse_site

TOML_BYTES: Final = 1024 * 1024
CSV_BYTES: Final = 5 * 1024 * 1024
NOTHING_GIVEN: Final = Given(fields={}, files={})


@dataclass(frozen=True, kw_only=True)
class Told:
    """What became of a form: what is there now, or why it was refused."""

    kind: str
    said: str = ""
    code: str = ""
    count: int = 0
    why: str = ""
    lines: tuple[tuple[int, str], ...] = ()
    """Every bad line of a history file with its reason."""
    status: int = 200
    given: Given = NOTHING_GIVEN


def set_rule(screen: Screen, given: Given) -> Told:
    """Add or change one person, station or calendar."""
    return _told(screen, given, given.text("kind"), _set)


def load(screen: Screen, given: Given) -> Told:
    """Take in a route card, a site or a history; all of it or nothing."""
    loads = {"route": _route, "site": _site, "history": _history}
    kind = given.text("kind")
    return _told(screen, given, kind, loads.get(kind, _nothing))


def practise(screen: Screen, given: Given) -> Told:
    """Open the practice site beside this one, or bring it up to date, with parts to scan."""
    return _told(screen, given, "practice", _practise)


Does = Callable[[Screen, Given], Told]


def _told(screen: Screen, given: Given, kind: str, do: Does) -> Told:
    try:
        return do(screen, given)
    except BadRows as bad:
        lines = tuple(bad.problems)
        return Told(kind=kind, why="", lines=lines, status=bad.status, given=given)
    except RingwrightError as error:
        return Told(kind=kind, why=error.message, status=error.status, given=given)


def _nothing(_screen: Screen, _given: Given) -> Told:
    raise Refused("that is no file to load here")


def _set(screen: Screen, given: Given) -> Told:
    actor = screen.actor
    kind = given.text("kind")
    thing = thing_of(kind, given)
    command = SetGroundRule(thing=thing, key=given.text("key") or None)
    answer = screen.ledger.execute(screen.site, command, actor)
    said = "set" if answer["changed"] else "unchanged"
    return Told(kind=kind, said=said, code=answer["code"])


def _text(given: Given, most_bytes: int, *endings: str) -> tuple[str, str]:
    """(name, text) of the chosen file, else of what was pasted; raises Refused."""
    file = given.files.get("file")
    if file is not None and file.content:
        return file.name, file.text(most_bytes, endings)
    pasted = given.text("pasted")
    if not pasted:
        raise Refused("choose a file or paste its text")
    if len(pasted.encode()) > most_bytes:
        raise Refused(f"the text is larger than {most_bytes / 1024 / 1024:g} MB")
    return "pasted text", pasted


def _may_load(screen: Screen) -> None:
    """Asked before the file is read: it may be large, and opening a site is no command."""
    _ = screen.actor
    if not screen.may("load"):
        raise Forbidden("loading files is the administrator's; ask one to choose themselves")


def _practise(screen: Screen, given: Given) -> Told:
    _may_load(screen)
    parts = given.text("parts").strip() or "0"
    if not (parts.isascii() and parts.isdigit() and len(parts) < 4):
        raise Refused(f"parts {parts[:20]!r} is no whole number from 0 to {MOST_PARTS}")
    answer = open_practice(screen.ledger, screen.site, None, int(parts), screen.actor)
    return Told(kind="practice", said="set", code=answer["site"])


def _route(screen: Screen, given: Given) -> Told:
    _may_load(screen)
    name, text = _text(given, TOML_BYTES, "toml", "txt")
    command = LoadRoute(card=parse_route(text, name), key=given.text("key") or None)
    answer = screen.ledger.execute(screen.site, command, screen.actor)
    said = "set" if answer["added"] else "unchanged"
    return Told(kind="route", said=said, code=f"{answer['product']} {answer['revision']}")


def _site(screen: Screen, given: Given) -> Told:
    _may_load(screen)
    name, text = _text(given, TOML_BYTES, "toml", "txt")
    with screen.ledger.read(screen.site) as read:
        codes = read_calendar_codes(read.connection, read.site.id)
    file = parse_site(text, name, codes)
    if file.code != screen.site and screen.site != BARE_SITE:
        raise Refused(
            f"{name} is the file of site {file.code}; this page is of {screen.site}. "
            "A further site is opened by the command `load site`"
        )
    screen.ledger.open_site(file.code)
    answer = screen.ledger.execute(file.code, ExtendSite(file=file), screen.actor)
    return Told(kind="site", said="loaded", code=file.code, count=answer["added"])


def _history(screen: Screen, given: Given) -> Told:
    _may_load(screen)
    name, text = _text(given, CSV_BYTES, "csv", "txt")
    zone = given.text("zone") or None
    if zone is not None:
        try:
            known_zone(zone)
        except ValueError:
            raise Refused(f"zone {zone[:60]!r} is no IANA time zone") from None
    command = LoadHistory(rows=read_csv(text), zone=zone)
    answer: dict[str, Any] = screen.ledger.execute(screen.site, command, screen.actor)
    return Told(kind="history", said="loaded", code=name, count=int(answer["added"]))


def as_given(thing: Person | Station | Calendar | None) -> Given:
    """A thing that is there, as the form that would set it again."""
    fields: dict[str, list[str]] = {}
    if isinstance(thing, Person):
        fields = {
            "roles": list(thing.roles),
            "authorisations": [", ".join(thing.authorisations)],
        }
    elif isinstance(thing, Station):
        fields = {"name": [thing.name], "group": [thing.group], "calendar": [thing.calendar]}
        fields["capacity"] = [str(thing.capacity)]
    elif isinstance(thing, Calendar):
        fields = {"shifts": ["\n".join(map(shift_line, thing.shifts))]}
        fields |= {"effective_from": [thing.effective_from or ""]}
        fields |= {"closed": ["\n".join(thing.closed)]}
        fields |= {"overtime": ["\n".join(map(overtime_line, thing.overtime))]}
    if thing is not None:
        fields["code"] = [thing.code]
    return Given(fields=fields, files={})
