"""Book what happened to a part: one function, one command."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from ringwright.bench.accepting import DECIDING, check_end
from ringwright.bench.authorised import check_authorised
from ringwright.bench.permitted import check_lot
from ringwright.bench.reading import (
    check_gauges_decide,
    check_when,
    doubt_on_arrival,
    read_by_api,
)
from ringwright.bench.rules import Booking, fact_of
from ringwright.bench.signing import sign_end
from ringwright.bench.welding import check_welds
from ringwright.core.calendar import iso_text
from ringwright.core.errors import Clash, Forbidden, Refused
from ringwright.core.facts import Entry
from ringwright.core.instants import HOUR_US, site_time
from ringwright.furnaces.queries import is_furnace
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Draft, Tx
from ringwright.parts.facts import Begun, Ended, Measured, PartFact
from ringwright.parts.knowledge import fold, fold_before
from ringwright.parts.queries import resolve_serial
from ringwright.parts.rules import check_begin, lies_behind
from ringwright.parts.state import Part
from ringwright.parts.windows import RAN_OUT, past_of, renewed_by, window_of
from ringwright.people.allowing import may_act
from ringwright.routecards.card import FindCard
from ringwright.routecards.queries import card_finder, in_force, read_revisions
from ringwright.sites.queries import read_shut

WORK = ("begin", "resume", "end", "measure")
"""Acts that do the work of a step, as against those that make it safe: hold, stop, pause."""
ACCEPTED = ("pass", "concession")
NEWEST = 2**53
"""Number of an entry that is only tried: behind all that are recorded."""
PERMISSION_OF_ACT = {
    "create": "create",
    "begin": "visit",
    "pause": "visit",
    "resume": "visit",
    "measure": "measure",
    "hold": "hold",
    "unhold": "lift a hold",
    "send": "send",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """One booking as from a history row."""

    operation: ClassVar[str] = "book"
    booking: Booking
    seen: int | None = None
    """The part's last entry when the screen was drawn; None: whatever it is."""

    @property
    def key(self) -> str | None:
        """The booking's own key."""
        return self.booking.key

    def body(self) -> Any:
        """The booking's fields."""
        return self.booking.body()

    def subject(self) -> str:
        """The part."""
        return self.booking.serial

    def permission(self) -> str:
        """What the actor must be allowed to do."""
        if self.booking.act == "end":
            return self.booking.outcome or "pass"
        return PERMISSION_OF_ACT[self.booking.act]


def book_allowed(command: Book, actor: Actor) -> bool:
    """True when one of the actor's roles may book this."""
    return may_act(actor, command.permission())


def book(tx: Tx, command: Book) -> dict[str, Any]:
    """Record the booking and answer with the event and where the part stands now."""
    booking = command.booking
    check_when(tx.now_us, booking.at_us)
    desk = open_desk(tx, booking.serial)
    desk.check_seen(command.seen)
    revision = None
    if booking.act == "create":
        revision = revision_in_force(tx, booking.product or "", booking.at_us or tx.now_us)
    elif booking.product is not None and desk.part.card is not None:
        check_product(desk.part, booking.product)
    fact = renewing(desk, fact_of(booking, revision), booking.at_us)
    actor = booking.by or tx.actor.code
    check_floor(desk, fact, actor, booking.at_us)
    if booking.act in WORK:
        step = desk.part.step if booking.step is None else booking.step
        check_authorised(tx, desk.part, step, (actor, tx.actor.code), booking.at_us)
    if booking.act == "begin" and (booking.at_us is None or booking.at_us >= tx.now_us):
        check_open(tx, desk.part, booking)
        check_no_furnace(tx, booking.station or "")
    entry = _record(desk, _judged(desk, booking, fact), booking, actor)
    if isinstance(fact, Measured):
        doubt_on_arrival(desk, fact, entry)
    return desk.answer(entry, booking.key)


def _judged(desk: Desk, booking: Booking, fact: PartFact) -> PartFact:
    """A reading with what its gauge is worth; an acceptance only on readings that decide."""
    if isinstance(fact, Measured):
        return read_by_api(desk, fact, booking.at_us)
    if booking.outcome in ACCEPTED:
        check_gauges_decide(desk)
    return fact


def _record(desk: Desk, fact: PartFact, booking: Booking, actor: str) -> Entry:
    at_us, station = booking.at_us, booking.station or ""
    if booking.outcome in DECIDING:
        desk.trial(fact, at_us=at_us, actor=actor, station=station)
        sign_end(desk.tx, desk.part, booking.outcome, actor)
    return desk.record(fact, at_us=at_us, key=booking.key, actor=actor, station=station)


def check_open(tx: Tx, part: Part, booking: Booking) -> None:
    """Refuse to begin at a shut station or step, or on a part or material of a shut lot."""
    asked = [f"step:{part.route.product}/{booking.step}"]
    asked += [f"station:{booking.station}"] if booking.station else []
    asked += [f"lot:{lot}" for lot in (part.lot, booking.lot) if lot]
    for row in read_shut(tx.connection, tx.site.id, asked):
        raise Refused(
            f"{row.kind} {row.code} is shut: {row.reason}. {row.opener} may open it",
            code="shut",
        )


def check_no_furnace(tx: Tx, station: str) -> None:
    """Refuse to begin a single part at a furnace on the register: it is loaded into a run."""
    if station and is_furnace(tx.connection, tx.site.id, station):
        raise Refused(
            f"{station} is a furnace; load the part into a run on Furnace", code="furnace"
        )


def check_product(part: Part, product: str) -> None:
    """Refuse a booking whose product is not the part's."""
    if part.route.product != product:
        raise Refused(f"{part.serial} is a {part.route.product}, not a {product}")


def revision_in_force(tx: Tx, product: str, at_us: int) -> str:
    """The revision a part created then starts on; raises Refused for an unknown product."""
    revisions = read_revisions(tx.connection, tx.site.id, product)
    if not revisions:
        raise Refused(f"no product {product!r} at this site; load its route card first")
    return in_force(revisions, at_us).revision


def check_floor(desk: Desk, fact: PartFact, by: str, at_us: int | None) -> None:
    """What the floor asks beyond the rules of the record.

    A back-dated begin is judged by the whole history alone, since the part stood elsewhere
    then, and by its window as it was then. A back-dated end is of the visit that is open now,
    whatever was booked on the part since.
    """
    check_lot(desk, fact)
    if isinstance(fact, Begun):
        if not desk.back_dated(at_us):
            _check_begin_on_floor(desk, fact, at_us)
        elif fact.renews is not None:
            _check_visits(desk.part, fact.step)
        check_window(desk.as_of(at_us), fact.step, desk.instant(at_us), desk.tx.site.zone)
    elif isinstance(fact, Ended):
        check_end(desk.tx, desk.part, fact.outcome, (by, desk.tx.actor.code))
        check_welds(desk.tx, desk.part, fact.step, fact.outcome)


def _check_begin_on_floor(desk: Desk, fact: Begun, at_us: int | None) -> None:
    part, step, actor = desk.part, fact.step, desk.tx.actor
    skipped = check_begin(part, step, fact.renews, desk.instant(at_us))
    if skipped:
        listed = ", ".join(map(str, skipped))
        if not may_act(actor, "skip a step"):
            raise Forbidden(f"beginning at {step} skips {listed}; a supervisor may do that")
        if not fact.reason:
            raise Refused(f"beginning at {step} skips {listed}; say why (reason)")
    _check_visits(part, step)


def _check_visits(part: Part, step: int) -> None:
    if visits_left(part, step) == 0:
        done = part.visits_at.get(step, 0)
        raise Refused(
            f"{part.serial} has been at step {step} {done} times, the most allowed; "
            "stop it for the quality engineer"
        )


def visits_left(part: Part, step: int) -> int | None:
    """How many more visits the step allows the part; None where any number."""
    largest = part.route.by_number[step].max_visits
    return None if largest is None else max(0, largest - part.visits_at.get(step, 0))


def renewing(desk: Desk, fact: PartFact, at_us: int | None) -> PartFact:
    """A begin behind the step awaited, with the window that ran out and that it starts anew.

    Only the floor says so: a row of another record that goes back stays a bad row.
    """
    if not isinstance(fact, Begun):
        return fact
    part = desk.as_of(at_us)
    found = renewed_by(part, fact.step, desk.instant(at_us))
    if found is None or not lies_behind(part, fact.step):
        return fact
    return replace(fact, renews=found.before)


def check_window(part: Part, step: int, at_us: int, zone: str) -> None:
    """Refuse to begin at a step whose window ran out by then, saying both ways on.

    `part`: as it stood at that instant [us]. A step without a window, a window that runs yet
    and one that the design authority let the part begin in spite of are no reason to refuse.
    """
    if part.card is None:
        return  # the rules of the record say so better
    found = window_of(part.card.by_number.get(step), past_of(part), at_us)
    if found is None or not found.bars:
        return
    ran_out = site_time(found.deadline_us, zone).isoformat(sep=" ", timespec="minutes")
    raise Refused(
        f"the window of {part.serial} ran out at {ran_out}: step {step} had to begin within "
        f"{found.length_us / HOUR_US:g} h of the end of step {found.after}. "
        f"{_again(part, found.after)} hold it for the design authority ({RAN_OUT})",
        code="window",
    )


def _again(part: Part, after: int) -> str:
    """The way on that needs nobody's decision, where the step before may be done again."""
    earlier = part.route.by_number[after]
    told = f"step {earlier.number} {earlier.name}"
    if visits_left(part, after) == 0:
        return f"It has been at {told} as often as it may;"
    verb = "Clean it again" if earlier.kind == "cleaning" else "Do it again"
    return f"{verb} ({told}), or"


@dataclass(slots=True)
class Desk:
    """One part on the desk of one command: its facts, where it stands, what is added."""

    tx: Tx
    part: Part
    history: list[Entry]
    find: FindCard

    def check_seen(self, seen: int | None) -> None:
        """Raise Clash when somebody acted on the part since the screen was drawn."""
        if seen is None or self.part.last_seq == seen:
            return
        latest = max(self.history, key=lambda entry: entry.seq)
        raise Clash(
            f"somebody acted on {self.part.serial} first: entry {latest.seq}, {latest.kind} "
            f"by {latest.actor}; it is {self.part.place} now. Look again and decide anew",
            code="acted-first",
        )

    def instant(self, at_us: int | None) -> int:
        """When something happens; without a time of its own after all that is there."""
        return max(self.tx.now_us, self.part.last_at_us) if at_us is None else at_us

    def back_dated(self, at_us: int | None) -> bool:
        """True for a time before the last that is known of the part."""
        return at_us is not None and at_us < self.part.last_at_us

    def as_of(self, at_us: int | None) -> Part:
        """The part as it stood at an instant by all that is known now; None: now."""
        if at_us is None or not self.back_dated(at_us):
            return self.part
        return fold_before(self.part.serial, self.history, self.find, (at_us, NEWEST))

    def record(
        self,
        fact: PartFact,
        *,
        at_us: int | None = None,
        key: str | None = None,
        actor: str = "",
        station: str = "",
        corrects: int | None = None,
    ) -> Entry:
        """Append a fact if the whole history still obeys, else raise Refused."""
        draft = self.draft(
            fact, at_us=at_us, key=key, actor=actor, station=station, corrects=corrects
        )
        entry = self.tx.append(draft, self.history)
        self.history.append(entry)
        self.part = fold(self.part.serial, self.history, self.find)
        return entry

    def draft(
        self,
        fact: PartFact,
        *,
        at_us: int | None = None,
        key: str | None = None,
        actor: str = "",
        station: str = "",
        corrects: int | None = None,
    ) -> Draft:
        """The fact as it would be recorded; raises Refused where the history forbids it."""
        trial, _ = self.trial(
            fact, at_us=at_us, actor=actor, station=station, corrects=corrects
        )
        return Draft(
            fact=fact,
            subject=self.part.serial,
            at_us=trial.at_us,
            key=key,
            actor=actor,
            station=station,
            corrects=corrects,
        )

    def trial(
        self,
        fact: PartFact,
        *,
        at_us: int | None = None,
        actor: str = "",
        station: str = "",
        corrects: int | None = None,
    ) -> tuple[Entry, Part]:
        """The entry the fact would be, and the part with it; raises Refused as `draft` does."""
        at = self.instant(at_us)
        known_us, who = self.tx.now_us, actor or self.tx.actor.code
        entry = Entry(NEWEST, fact.kind, at, known_us, who, station, corrects, fact.payload())
        return entry, fold(self.part.serial, [*self.history, entry], self.find)

    def answer(self, entry: Entry, key: str | None) -> dict[str, Any]:
        """What a booking is answered with."""
        return {
            "event": event_view(entry, self.part.serial, key, self.tx.site.zone),
            "part": part_view(self.part),
        }


def open_desk(tx: Tx, serial: str) -> Desk:
    """The part of a serial or mark, as it stands; one without facts has no card yet."""
    subject = resolve_serial(tx.connection, tx.site, serial)
    history = tx.history("part", subject)
    find = card_finder(tx.connection, tx.site.id)
    return Desk(tx, fold(subject, history, find), history, find)


def event_view(entry: Entry, serial: str, key: str | None, zone: str) -> dict[str, Any]:
    """An event as the API shows it."""
    return {
        "site_seq": entry.seq,
        "key": key,
        "act": entry.kind,
        "serial": serial,
        "step": entry.data.get("step"),
        "at": iso_text(entry.at_us, zone),
    }


def part_view(part: Part) -> dict[str, Any]:
    """A part as the API shows it."""
    hold = part.open_hold
    return {
        "serial": part.serial,
        "product": part.route.product,
        "place": part.place,
        "step": part.step,
        "hold": hold.reason if hold else None,
        "reservation": part.reservation,
    }


HANDLINGS: dict[type, Handling] = {Book: Handling(book, book_allowed)}
