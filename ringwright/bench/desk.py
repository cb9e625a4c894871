"""What one screen of the Bench does and shows: an act tried, a part looked at, both told."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from ringwright.attachments.queries import Attached, read_attached
from ringwright.bench.authorised import StepAsks, read_step_asks
from ringwright.bench.correcting import TAKE_BACK_US
from ringwright.bench.forms import CARDS, Order, card_of, clean_scan, command_of
from ringwright.bench.gauging import GaugeChoice, read_gauge_choices
from ringwright.bench.queries import (
    BenchSheet,
    OpenNonconformity,
    ShiftCount,
    find_serial,
    read_bench_sheet,
    read_open_nonconformities,
    read_recent_defects,
    read_shift_count,
)
from ringwright.core.calendar import shift_at, site_time, wall_us
from ringwright.core.errors import Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.gauges.queries import read_gauge_code
from ringwright.kit.forms import NOTHING, Given, new_key
from ringwright.ledger.service import Read
from ringwright.people.marks import looks_like_badge
from ringwright.people.screen import Screen
from ringwright.sites.queries import read_calendars

NO_PART: Final = "that was a badge, not a part; a badge is scanned when an act asks for it"
OPEN_AFTER: Final = (
    "begin", "resume", "measure", "correct", "unhold", "move", "attach", "note",
)  # fmt: skip
"""After these the part stays open on the screen; after others the whole field tells it."""

AFTER: Final[dict[str, tuple[str, str]]] = {
    "begin": ("begun", N_("Begun")),
    "resume": ("begun", N_("Resumed")),
    "pause": ("begun", N_("Paused")),
    "hand-over": ("begun", N_("Handed over")),
    "measure": ("begun", N_("Readings kept")),
    "hold": ("held", N_("Held")),
    "unhold": ("begun", N_("Hold lifted")),
    "stop": ("stopped", N_("Stopped")),
    "move": ("begun", N_("Moved")),
    "correct": ("restated", N_("Taken back")),
    "attach": ("begun", N_("Attached")),
    "note": ("begun", N_("Noted")),
    "witness": ("scrap", N_("Witnessed unusable")),
    "pass": ("passed", N_("Passed")),
    "rework": ("rework", N_("To rework")),
    "send": ("begun", N_("Sent")),
    "remark": ("begun", N_("Marked anew")),
    "join": ("begun", N_("Made from these")),
    "split": ("begun", N_("Parted")),
}
NOT_DONE: Final[dict[str, str]] = {
    "begin": N_("Not begun"),
    "begin-at": N_("Not begun"),
    "pause": N_("Not paused"),
    "resume": N_("Not resumed"),
    "pass": N_("Not passed"),
    "rework": N_("Not sent to rework"),
    "keep": N_("Readings not kept"),
    "stop": N_("Not stopped"),
    "hold": N_("Not held"),
    "unhold": N_("Hold not lifted"),
    "hand-over": N_("Not handed over"),
    "move": N_("Not moved"),
    "take-back": N_("Not taken back"),
    "attach": N_("Not attached"),
    "note": N_("Not noted"),
    "send": N_("Not sent"),
    "remark": N_("Not marked anew"),
    "join": N_("Not joined"),
    "split": N_("Not parted"),
    "witness": N_("Not witnessed"),
    "scan": N_("Not opened"),
    "card": N_("The card did nothing"),
}


CALLED_FOR: Final[dict[str, str]] = {
    "begin-at": "skip a step",
    "unhold": "lift a hold",
    "take-back": "correct",
    "join": "genealogy",
    "split": "genealogy",
    "remark": "genealogy",
    "note": "attach",
}
"""Act to the permission it wants, where that has another name."""


@dataclass(frozen=True, kw_only=True)
class After:
    """What an entry did, told once it is kept."""

    shape: str
    title: str
    kind: str
    outcome: str
    entry: int
    at_us: int
    by: str
    station: str
    step: Any
    read: int
    """Readings booked together with it."""
    left_ms: int
    """How long the one who booked it may take it back [ms]."""


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """What was not done and why; `changed` are the entries somebody else made meanwhile."""

    shape: str
    title: str
    why: str
    now: str
    changed: Sequence[Any] = ()
    call: str | None = None
    """What somebody must be called for: a permission, or empty; None: nobody need be."""


@dataclass(frozen=True, kw_only=True)
class Tally:
    """What was ended at the station in this shift, or today outside any shift."""

    name: str
    shift: str
    count: ShiftCount


@dataclass(frozen=True, kw_only=True)
class View:
    """Everything one screen of the Bench shows, from one snapshot."""

    screen: Screen
    now_us: int
    sheet: BenchSheet | None = None
    after: After | None = None
    refusal: Refusal | None = None
    scanned: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    given: Given = field(default_factory=lambda: Given(fields={}, files={}))
    tally: Tally | None = None
    waiting: Sequence[OpenNonconformity] = ()
    asks: StepAsks | None = None
    """The authorisation that the step asks for, and whether whoever acts holds it."""
    defects: Sequence[str] = ()
    """What was lately wrong with such parts at this step, the commonest first."""
    gauges: tuple[GaugeChoice, ...] = ()
    """The gauges the step is read with, where the register keeps them."""
    attached: Sequence[Attached] = ()
    key: str = field(default_factory=new_key)

    @property
    def state(self) -> str:
        """Which of the four fields stands on the screen."""
        if self.sheet is None:
            return "refused" if self.refusal else "idle"
        if self.after is not None and self.after.kind not in OPEN_AFTER:
            return "after"
        return "part"


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """A refused try: which act, and the refusal."""

    act: str
    error: RingwrightError


def look(screen: Screen, asked: Mapping[str, str]) -> View:
    """What a scan shows. It opens a part and never books, whatever was scanned."""
    text = clean_scan(asked.get("scan", ""))
    if looks_like_badge(text):
        return _view(screen, "", NOTHING, trouble=Trouble(act="scan", error=Refused(NO_PART)))
    word = card_of(text)
    fields = {name: [value] for name, value in asked.items()}
    given = Given(fields=fields, files={})
    if word is None:
        entry = asked.get("entry", "")
        return _view(screen, text, given, entry=int(entry) if entry.isdigit() else None)
    serial = clean_scan(asked.get("on", ""))
    return _view(screen, serial, given, trouble=Trouble(act="card", error=_idle_card(word)))


def _idle_card(word: str) -> Refused:
    return Refused(
        f"the card {CARDS[word]} acts only on a part that is open on this screen "
        "and has that act to press"
    )


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What became of an act: the entry it made, or the refusal."""

    serial: str
    entry: int | None = None
    trouble: Trouble | None = None
    given: Given

    @property
    def status(self) -> int:
        """The HTTP status of the answer."""
        return self.trouble.error.status if self.trouble else 200


def act(screen: Screen, serial: str, given: Given, at_us: int | None = None) -> Outcome:
    """Try one act at the Bench; a refusal is told, not raised. `at_us` None: it happens now."""
    name = given.text("act").partition(":")[0]
    order = Order(
        act=name,
        serial=serial,
        given=given,
        station=screen.station_code,
        zone=screen.zone,
        at_us=at_us,
    )
    try:
        actor = screen.actor
        command = command_of(order)
        answer = screen.ledger.execute(screen.site, command, actor)
    except RingwrightError as error:
        return Outcome(serial=serial, trouble=Trouble(act=name, error=error), given=given)
    return Outcome(serial=serial, entry=answer["event"]["site_seq"], given=given)


def view_of(screen: Screen, outcome: Outcome) -> View:
    """The screen after an act: what it did, or why it was not done with all that was typed."""
    given = outcome.given if outcome.trouble else Given(fields={}, files={})
    return _view(screen, outcome.serial, given, entry=outcome.entry, trouble=outcome.trouble)


def _view(
    screen: Screen,
    text: str,
    given: Given,
    *,
    entry: int | None = None,
    trouble: Trouble | None = None,
) -> View:
    with screen.ledger.read(screen.site) as read:
        sheet: BenchSheet | None = None
        try:
            sheet = read_bench_sheet(read, find_serial(read, text)) if text else None
        except RingwrightError as error:
            trouble = trouble or Trouble(act="scan", error=_told(read, text, error))
        return View(
            screen=screen,
            now_us=read.now_us,
            sheet=sheet,
            scanned=text,
            after=_after(screen, read, sheet, entry),
            refusal=_refusal(trouble, sheet, given),
            given=given,
            typed=given.under("reading."),
            tally=_tally(screen, read),
            waiting=read_open_nonconformities(read),
            defects=read_recent_defects(read, sheet) if sheet else (),
            asks=_asks(screen, read, sheet),
            gauges=_gauges(screen, read, sheet, given),
            attached=read_attached(read, sheet.part.serial) if sheet else (),
        )


def _told(read: Read, text: str, error: RingwrightError) -> RingwrightError:
    """What a scan that opened no part was, where that is known."""
    if read_gauge_code(read.connection, read.site.id, text):
        return Refused(f"{text} is a gauge; scan the part first, then the gauge")
    return error


def _gauges(
    screen: Screen, read: Read, sheet: BenchSheet | None, given: Given
) -> tuple[GaugeChoice, ...]:
    if sheet is None:
        return ()
    return read_gauge_choices(read, sheet, screen.station_code, given)


def _asks(screen: Screen, read: Read, sheet: BenchSheet | None) -> StepAsks | None:
    if sheet is None or sheet.part.place not in ("waiting", "in work"):
        return None
    return read_step_asks(read, sheet.step, screen.person.code if screen.person else None)


def _after(
    screen: Screen, read: Read, sheet: BenchSheet | None, entry: int | None
) -> After | None:
    rows = [row for row in sheet.events if row.site_seq == entry] if sheet else []
    if not rows or sheet is None:
        return None
    row, data = rows[0], json.loads(rows[0].payload)
    if row.site_seq != max(event.site_seq for event in sheet.events):
        return None  # an old address: more has happened since
    outcome = str(data.get("outcome", ""))
    kind = outcome if row.kind == "end" else row.kind
    if kind == "resume" and _read_with(sheet.events, row, "pause"):
        kind = "hand-over"
    shape, title = AFTER.get(kind, ("begun", N_("Booked")))
    return After(
        shape=shape,
        title=title,
        kind=row.kind,
        outcome=outcome,
        entry=row.site_seq,
        at_us=row.at_us,
        by=row.actor,
        station=row.station,
        step=sheet.card.by_number.get(data.get("step") or -1),
        read=_read_with(sheet.events, row, "measure"),
        left_ms=_left_ms(screen, read, sheet, row),
    )


def _read_with(events: Sequence[Any], row: Any, kind: str) -> int:
    """How many entries of a kind were made in the same breath as this one."""
    together = [e for e in events if e.recorded_at_us == row.recorded_at_us]
    return sum(event.kind == kind for event in together)


def _left_ms(screen: Screen, read: Read, sheet: BenchSheet, row: Any) -> int:
    own = screen.person is not None and screen.person.code == row.actor
    last = max(event.site_seq for event in sheet.events) == row.site_seq
    if not own or not last or row.kind == "correct":
        return 0
    return max(0, (TAKE_BACK_US - (read.now_us - int(row.known_at_us))) // 1000)


def _refusal(trouble: Trouble | None, sheet: BenchSheet | None, given: Given) -> Refusal | None:
    if trouble is None:
        return None
    error = trouble.error
    seen = given.text("seen")
    changed: Sequence[Any] = ()
    if error.code == "acted-first" and sheet is not None and seen.isdigit():
        changed = [row for row in sheet.events if row.site_seq > int(seen)]
    hold = sheet.part.hold if sheet else None
    held = hold is not None
    stuck = held and trouble.act == "card"
    return Refusal(
        shape="held" if held else "nonconformity",
        title=N_("Not done: on hold") if stuck else NOT_DONE.get(trouble.act, N_("Not done")),
        why=str(hold) if stuck else error.message,
        now=_what_now(trouble, held),
        changed=changed,
        call=_call(trouble),
    )


def _call(trouble: Trouble) -> str | None:
    if trouble.error.status != 403 or trouble.error.code == "nobody":
        return None
    if trouble.error.code == "unauthorised":
        return ""
    return CALLED_FOR.get(trouble.act, trouble.act)


def _what_now(trouble: Trouble, held: bool) -> str:
    code, status = trouble.error.code, trouble.error.status
    if code == "acted-first":
        return N_("See below what changed, then decide again.")
    if code == "nobody":
        return N_("Choose who acts at this screen, then press again.")
    if status == 403:
        return _safe_now(code, held)
    if trouble.act == "scan":
        return N_("Check the serial on the part and scan it again.")
    if held and trouble.act in ("begin", "pass", "card"):
        return N_("Put it in the quarantine place. A supervisor or quality engineer lifts it.")
    if trouble.act == "card":
        return N_("Scan the part first; then press, or scan a card of an act that is shown.")
    return N_("Put it right and press again. What you typed is kept below.")


def _safe_now(code: str, held: bool) -> str:
    """What is safe while nobody here may do it."""
    if code == "unauthorised":
        return N_("Hold or stop the part, or let somebody do it whose authorisation is valid.")
    if held:
        return N_("It stays held. Call somebody who may do it.")
    return N_("The safe thing: hold the part, or stop it. Then call somebody who may.")


def _tally(screen: Screen, read: Read) -> Tally | None:
    """Counted from the start of the shift; outside any, from the site's midnight."""
    if screen.station is None:
        return None
    calendars = read_calendars(read.connection, read.site.id, screen.station.calendar or None)
    shift = shift_at(calendars, read.now_us, read.site.zone)
    today = site_time(read.now_us, read.site.zone).replace(tzinfo=None)
    midnight_us = wall_us(today.replace(hour=0, minute=0, second=0, microsecond=0), screen.zone)
    since_us, name = (shift[0], shift[2]) if shift else (midnight_us, "")
    count = read_shift_count(read, screen.station.code, since_us)
    return Tally(name=screen.station.name or screen.station.code, shift=name, count=count)
