"""Weighing: repeats at the bench, and what a scale wrote into a file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import Response

from ringwright.balance.units import KNOWN, UNITS
from ringwright.bench.reading import Taken
from ringwright.core.errors import Refused, RingwrightError
from ringwright.core.facts import Registry
from ringwright.gauges.register import GaugeLine, Register, read_register
from ringwright.gauges.rules import uncertainty_in
from ringwright.gauges.words import GaugeWords
from ringwright.kit.forms import Given, Sent
from ringwright.kit.render import figures_for, page, words_for
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import fetch_entries
from ringwright.people.screen import AtScreen, Screen
from ringwright.routecards.card import Characteristic
from ringwright.routecards.queries import card_in_force, read_revisions
from ringwright.sites.facts import FACTS
from ringwright.sites.gauging import KIND
from ringwright.weighing import repeat_pages
from ringwright.weighing.preview import How, PartLine, Preview, make_preview
from ringwright.weighing.scale_file import (
    KIND_OF_UNIT,
    SERIAL,
    Chosen,
    ScaleTable,
    factor_of,
    guess,
    read_table,
    rows_of,
)
from ringwright.weighing.service import BookWeighings, Weighed, remembered

router = APIRouter(include_in_schema=False)

MOST_BYTES: Final = 512 * 1024
_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


@router.get("/weighing/file", name="weighing.file")
def bring(request: Request, screen: AtScreen) -> Response:
    """Choose the scale and its file."""
    return _page(request, screen, Given(fields={}, files={}), None)


@router.post("/weighing/file", name="weighing.bring")
def brought(request: Request, screen: AtScreen, sent: Sent) -> Response:
    """Look at a file, choose its columns, and book it when told to."""
    given = sent
    try:
        given = _with_text(sent)
        return _page(request, screen, given, None, _step(screen, given))
    except RingwrightError as trouble:
        return _page(request, screen, given, trouble)


router.routes.extend(repeat_pages.router.routes)


@dataclass(frozen=True, kw_only=True)
class Found:
    """What is known of the file after a step; later steps know more."""

    table: ScaleTable
    line: GaugeLine
    codes: dict[str, Characteristic]
    places: dict[str, int]
    """Serial and characteristics to the column chosen for each."""
    units: dict[str, str]
    """Characteristic to the unit chosen; empty while it was not asked yet."""
    chosen: Chosen | None = None
    before: bool = False
    """True where a file with this heading was read before."""
    preview: Preview | None = None
    booked: dict[str, Any] | None = None

    @property
    def ready(self) -> Chosen | None:
        """The columns and units, once every one is chosen."""
        return self.chosen if all(self.units.values()) else None


@dataclass(frozen=True, slots=True)
class NothingYet:
    """The page before a file was chosen."""

    table: None = None
    preview: None = None
    booked: None = None


NOTHING_YET: Final = NothingYet()


def _with_text(sent: Given) -> Given:
    """The form with the file's content as text, so that the next step still has it."""
    upload = sent.files.get("file")
    if upload is None or not upload.content:
        return replace(sent, files={})
    text = upload.text(MOST_BYTES)
    return Given(fields={"gauge": [sent.text("gauge")], "text": [text]}, files={})


def _step(screen: Screen, given: Given) -> Found:
    """What the page shows of the file after this step; books when `act` says so."""
    if not given.text("gauge"):
        raise Refused("choose the scale that wrote the file")
    if not given.text("text"):
        raise Refused("choose the file")
    table = read_table(given.fields["text"][0])
    with screen.ledger.read(screen.site) as read:
        line = _line_of(read_register(read), given.text("gauge"))
        codes = _codes(read, line.gauge.kind)
        found = Found(table=table, line=line, codes=codes, places={}, units={})
        found = _columns(read, found, given)
        if found.ready is None:
            return found
        found = replace(found, preview=_preview(read, found, found.ready, given))
    if given.text("act") == "book":
        found = replace(found, booked=_book(screen, found, given))
    return found


def _line_of(register: Register, code: str) -> GaugeLine:
    line = next((one for one in register.lines if one.gauge.code == code), None)
    if line is None:
        raise Refused(f"there is no gauge {code} on the register")
    return line


def _codes(read: Read, kind: str) -> dict[str, Characteristic]:
    """Characteristics that gauges of a kind read, of every product's card in force."""
    revisions = read_revisions(read.connection, read.site.id)
    found: dict[str, Characteristic] = {}
    for product in dict.fromkeys(row.product for row in revisions):
        for step in card_in_force(revisions, product, read.now_us).steps:
            for one in step.characteristics:
                if one.gauge_kind == kind:
                    found.setdefault(one.code, one)
    if not found:
        raise Refused(f"no route card reads anything with a {kind}")
    return found


def _columns(read: Read, found: Found, given: Given) -> Found:
    """Which column holds what, and in which units: as chosen, as last time, as guessed."""
    table, codes, gauge = found.table, found.codes, found.line.gauge.code
    entries = fetch_entries(read.connection, _REGISTRY, read.site.id, KIND, [gauge])
    before = remembered(entries.get(gauge, []), table.signature)
    typed = given.under("column.")
    if typed:
        places = {name: int(text) for name, text in typed.items() if text.isdigit()}
    elif before is not None:
        titles = {n: t for n, t in before["columns"].items() if t in table.heading}
        places = {name: table.heading.index(title) for name, title in titles.items()}
    else:
        places = guess(table, list(codes))
    units = {**(before["units"] if before else {}), **given.under("unit.")}
    readings = {code: place for code, place in places.items() if code in codes}
    asked = [code for code in readings if codes[code].unit in KIND_OF_UNIT]
    wanted = {code: units.get(code, "") for code in asked}
    chosen = None
    if SERIAL in places and readings:
        chosen = Chosen(serial=places[SERIAL], readings=readings, units=wanted)
    return replace(found, places=places, units=wanted, chosen=chosen, before=before is not None)


def _preview(read: Read, found: Found, chosen: Chosen, given: Given) -> Preview:
    codes, line = found.codes, found.line
    factors = {code: factor_of(codes[code].unit, unit) for code, unit in chosen.units.items()}
    aside = (name.partition(".") for name in given.under("out."))
    how = How(
        chosen=chosen,
        left_out=frozenset((int(n), code) for n, _, code in aside if n.isdigit()),
        uncertainties={
            code: uncertainty_in(line.gauge, line.now, codes[code].unit)
            for code in chosen.readings
        },
    )
    return make_preview(read, rows_of(found.table, chosen, factors), how)


def _book(screen: Screen, found: Found, given: Given) -> dict[str, Any]:
    """Book what the preview shows; raises Refused while something speaks against it."""
    preview, chosen = found.preview, found.chosen
    assert preview is not None
    assert chosen is not None
    if preview.slips and not given.text("sure"):
        told = "; ".join(preview.slips)
        raise Refused(
            f"{told}. Choose the unit, or say that the figures are right as they are",
            code="slip",
        )
    refused = len(preview.bad) + len(preview.refused)
    if refused and not given.text("rest"):
        raise Refused(
            f"{refused} rows or parts cannot be booked; put them right, or say that the rest "
            "is booked without them"
        )
    columns = {SERIAL: chosen.serial, **chosen.readings}
    reason = given.text("reason") or None
    command = BookWeighings(
        gauge=given.text("gauge"),
        parts=tuple(_weighed(part, reason) for part in preview.bookable),
        signature=found.table.signature,
        columns={name: found.table.heading[place] for name, place in columns.items()},
        units=found.units,
        station=screen.station_code,
    )
    return screen.ledger.execute(screen.site, command, screen.actor)


def _weighed(part: PartLine, reason: str | None) -> Weighed:
    return Weighed(
        serial=part.serial,
        taken={
            line.code: Taken(
                repeats=line.values,
                left_out=line.left_out,
                reason=reason if line.left_out else None,
            )
            for line in part.lines
        },
    )


def _page(
    request: Request,
    screen: Screen,
    given: Given,
    trouble: RingwrightError | None,
    found: Found | None = None,
) -> Response:
    with screen.ledger.read(screen.site) as read:
        register = read_register(read)
    if found is None and trouble is not None and given.text("text") and given.text("gauge"):
        found = _again(screen, given)
    return page(
        request,
        "weighing/file.html",
        status=trouble.status if trouble else 200,
        screen=screen,
        gauges=[line for line in register.lines if not line.gauge.withdrawn],
        told=GaugeWords(words_for(request), figures_for(request)),
        given=given,
        trouble=trouble,
        found=found or NOTHING_YET,
        kinds={kind: [(name, UNITS[name]) for name in names] for kind, names in KNOWN.items()},
        kind_of=KIND_OF_UNIT,
        zone=screen.zone,
    )


def _again(screen: Screen, given: Given) -> Found | None:
    """The same step without booking, so that a refusal stands over what was chosen."""
    try:
        quiet = {name: texts for name, texts in given.fields.items() if name != "act"}
        return _step(screen, Given(fields=quiet, files={}))
    except RingwrightError:
        return None
