"""One act for a rack of parts, with the exceptions named; each part is its own booking."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter, Request
from sqlalchemy import select
from starlette.responses import Response

from ringwright.bench.acts import Move
from ringwright.bench.forms import clean_scan
from ringwright.bench.queries import find_serial
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.errors import Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.kit.forms import Given, Sent, new_key
from ringwright.kit.render import page
from ringwright.ledger.service import Read
from ringwright.parts.tables import PartNow
from ringwright.people.screen import AtScreen, Screen
from ringwright.people.trying import key_of
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.queries import card_finder

router = APIRouter(include_in_schema=False)

MOST: Final = 300
ACTS: Final = (
    ("begin", N_("begin at the step that is due")),
    ("pass", N_("pass")),
    ("move", N_("move to another place")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RackLine:
    """One part of the rack: what would be done, or why not; then what became of it."""

    serial: str
    stands: str = ""
    step: Step | None = None
    why: str = ""
    """Why it is left out, before anything is booked."""
    entry: int = 0
    refused: str = ""
    """What the record said when it was tried."""


@router.get("/paper/rack", name="paper.rack")
def rack(request: Request, screen: AtScreen) -> Response:
    """Scan the parts of a rack."""
    return _page(request, screen, Given(fields={}, files={}), (), None)


@router.post("/paper/rack", name="paper.rack_act")
def rack_act(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Show what would be booked; book it when told to."""
    try:
        lines = _lines(screen, sent)
        if sent.text("act") == "book":
            lines = _book(screen, sent, lines)
    except RingwrightError as trouble:
        return _page(request, screen, sent, (), trouble)
    return _page(request, screen, sent, lines, None)


def _lines(screen: Screen, sent: Given) -> list[RackLine]:
    serials = list(dict.fromkeys(clean_scan(one) for one in sent.text("serials").split()))
    if not serials:
        raise Refused("scan the parts of the rack first, one a line")
    if len(serials) > MOST:
        raise Refused(f"{len(serials)} parts are too many at once; {MOST} at most")
    if sent.text("what") not in dict(ACTS):
        raise Refused("choose what is done with the rack")
    if sent.text("what") == "move" and not sent.text("to"):
        raise Refused("say where the parts are moved to")
    except_ = _exceptions(sent.text("except"))
    unknown = sorted(set(except_) - set(serials))
    if unknown:
        raise Refused(f"not in the rack, but named as an exception: {', '.join(unknown)}")
    with screen.ledger.read(screen.site) as read:
        return _judged(read, serials, except_, sent.text("what"))


def _exceptions(text: str) -> dict[str, str]:
    """Serial to reason, of lines that begin with a serial; raises Refused without a reason."""
    found = {}
    for line in filter(None, map(str.strip, text.split("\n"))):
        serial, _, reason = line.partition(" ")
        if not reason.strip():
            raise Refused(f"say why {serial} is an exception: serial, a blank, the reason")
        found[clean_scan(serial)] = reason.strip()
    return found


def _judged(
    read: Read, serials: Sequence[str], except_: dict[str, str], what: str
) -> list[RackLine]:
    known, unknown = _known(read, serials)
    query = select(PartNow).where(
        PartNow.site_id == read.site.id, PartNow.serial.in_(list(known.values()))
    )
    rows = {row.serial: row for row in read.connection.execute(query)}
    find = card_finder(read.connection, read.site.id)
    return [
        RackLine(serial=text, why=unknown[text])
        if text in unknown
        else _line(known[text], rows.get(known[text]), except_.get(text, ""), (find, what))
        for text in serials
    ]


def _known(read: Read, texts: Sequence[str]) -> tuple[dict[str, str], dict[str, str]]:
    """What was scanned to the serial it means, and to why it means none."""
    known: dict[str, str] = {}
    unknown: dict[str, str] = {}
    for text in texts:
        try:
            known[text] = find_serial(read, text)
        except RingwrightError as trouble:
            unknown[text] = trouble.message
    return known, unknown


Find = Callable[[str, str], RouteCard]


def _line(serial: str, row: Any, reason: str, how: tuple[Find, str]) -> RackLine:
    find, what = how
    if row is None:
        return RackLine(serial=serial, why="is no part of this site")
    step = find(row.product, row.revision).by_number.get(row.step or -1)
    why = f"exception: {reason}" if reason else _why_not(row, step, what)
    return RackLine(serial=serial, stands=row.place, step=step, why=why)


def _why_not(row: Any, step: Step | None, what: str) -> str:
    """What speaks against it at first sight; the record judges again when it is booked."""
    if what == "move":
        return "is sent" if row.place == "sent" else ""
    if row.hold is not None:
        return f"is held: {row.hold}"
    wanted = "waiting" if what == "begin" else "in work"
    if row.place != wanted:
        return f"is {row.place}, not {wanted}"
    if what == "pass" and step is not None and step.characteristics:
        return f"step {step.number} asks for readings; pass it at the Bench"
    return ""


def _book(screen: Screen, sent: Given, lines: list[RackLine]) -> list[RackLine]:
    """Each part by itself, under a key of its own: what is refused stops no other."""
    actor, key = screen.actor, key_of(sent)
    done = []
    for line in lines:
        if line.why:
            done.append(line)
            continue
        try:
            command = _command(screen, sent, line, f"{key}-{line.serial}")
            answer = screen.ledger.execute(screen.site, command, actor)
        except RingwrightError as trouble:
            done.append(RackLine(serial=line.serial, step=line.step, refused=trouble.message))
            continue
        entry = answer["event"]["site_seq"]
        done.append(RackLine(serial=line.serial, step=line.step, entry=entry))
    return done


def _command(screen: Screen, sent: Given, line: RackLine, key: str) -> Any:
    what = sent.text("what")
    if what == "move":
        return Move(
            serial=line.serial, to=sent.text("to"), station=screen.station_code, key=key
        )
    assert line.step is not None
    row = {
        "act": "begin" if what == "begin" else "end", "serial": line.serial,
        "step": line.step.number, "station": screen.station_code, "key": key,
    }  # fmt: skip
    if what == "pass":
        row["outcome"] = "pass"
    given = {name: value for name, value in row.items() if value != ""}
    return Book(booking=make_booking(given, None))


def _page(
    request: Request,
    screen: Screen,
    given: Given,
    lines: Sequence[RackLine],
    trouble: RingwrightError | None,
) -> Response:
    booked = [line for line in lines if line.entry]
    refused = [line for line in lines if line.refused]
    return page(
        request,
        "paper/rack.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        given=given,
        lines=lines,
        good=[line for line in lines if not line.why],
        booked=booked,
        refused=refused,
        done=bool(booked or refused),
        trouble=trouble,
        acts=ACTS,
        key=new_key(),
    )
