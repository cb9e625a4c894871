"""Book what happened to a part: one function, one command."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.bench.rules import Booking, fact_of
from ringwright.core.calendar import iso_text
from ringwright.core.errors import Clash, Forbidden, Refused
from ringwright.core.facts import Entry
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Actor, Draft, Tx
from ringwright.parts.facts import PartFact
from ringwright.parts.knowledge import fold
from ringwright.parts.queries import resolve_serial
from ringwright.parts.rules import check_begin
from ringwright.parts.state import Part
from ringwright.people.allowing import permits
from ringwright.routecards.card import FindCard
from ringwright.routecards.queries import card_finder, in_force, read_revisions
from ringwright.sites.queries import read_shut

AHEAD_LIMIT_US = 5 * 60 * 1_000_000
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
    return permits(actor, command.permission())


def book(tx: Tx, command: Book) -> dict[str, Any]:
    """Record the booking and answer with the event and where the part stands now."""
    booking = command.booking
    if booking.at_us is not None and booking.at_us > tx.now_us + AHEAD_LIMIT_US:
        raise Refused(
            "at lies more than five minutes ahead of the server's clock; set it right"
        )
    desk = open_desk(tx, booking.serial)
    desk.check_seen(command.seen)
    revision = None
    if booking.act == "create":
        revision = revision_in_force(tx, booking.product or "", booking.at_us or tx.now_us)
    elif booking.product is not None and desk.part.card is not None:
        check_product(desk.part, booking.product)
    fact = fact_of(booking, revision)
    actor = booking.by or tx.actor.code
    check_floor(desk.part, fact, actor, tx.actor, booking.at_us)
    if booking.act == "begin" and (booking.at_us is None or booking.at_us >= tx.now_us):
        check_open(tx, desk.part, booking)
    entry = desk.record(
        fact, at_us=booking.at_us, key=booking.key, actor=actor, station=booking.station or ""
    )
    return desk.answer(entry, booking.key)


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


def check_floor(part: Part, fact: PartFact, by: str, actor: Actor, at_us: int | None) -> None:
    """What the floor asks beyond the rules of the record.

    A back-dated booking is judged by the whole history alone: the part stood elsewhere then.
    """
    if at_us is not None and at_us < part.last_at_us:
        return
    if fact.kind == "begin":
        _check_begin_on_floor(part, fact.step, fact.reason, actor)  # type: ignore[attr-defined]
    elif fact.kind == "end" and fact.outcome == "pass":  # type: ignore[attr-defined]
        check_own_work(part, by, actor)


def _check_begin_on_floor(part: Part, step: int, reason: str | None, actor: Actor) -> None:
    skipped = check_begin(part, step)
    if skipped:
        listed = ", ".join(map(str, skipped))
        if not permits(actor, "skip a step"):
            raise Forbidden(f"beginning at {step} skips {listed}; a supervisor may do that")
        if not reason:
            raise Refused(f"beginning at {step} skips {listed}; say why (reason)")
    largest = part.route.by_number[step].max_visits
    done = part.visits_at.get(step, 0)
    if largest is not None and done >= largest:
        raise Refused(
            f"{part.serial} has been at step {step} {done} times, the most allowed; "
            "stop it for the quality engineer"
        )


def check_own_work(part: Part, by: str, actor: Actor) -> None:
    """Nobody passes their own work at the next inspection, unless authorised for it."""
    visit = part.open_visit
    if visit is None or visit.step is None or actor.self_inspection:
        return
    if part.route.by_number[visit.step].kind == "inspection" and by in part.workers:
        raise Forbidden(
            f"{by} worked on {part.serial} and may not pass its next inspection; "
            "another inspector must"
        )


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
        # A booking without a time of its own comes after all that is there, whatever the clock.
        at = max(self.tx.now_us, self.part.last_at_us) if at_us is None else at_us
        trial = Entry(
            2**53,
            fact.kind,
            at,
            self.tx.now_us,
            actor or self.tx.actor.code,
            station,
            corrects,
            fact.payload(),
        )
        fold(self.part.serial, [*self.history, trial], self.find)
        return Draft(
            fact=fact,
            subject=self.part.serial,
            at_us=at,
            key=key,
            actor=actor,
            station=station,
            corrects=corrects,
        )

    def answer(self, entry: Entry, key: str | None) -> dict[str, Any]:
        """What a booking is answered with."""
        return {
            "event": event_view(entry, self.part.serial, key, self.tx.site.zone),
            "part": part_view(self.part),
        }


def open_desk(tx: Tx, serial: str) -> Desk:
    """The part of a serial or mark, as it stands; one without facts has no card yet."""
    subject = resolve_serial(tx.connection, tx.site.id, serial)
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
