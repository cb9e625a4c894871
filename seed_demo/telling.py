"""Writing the story into the record, as the facts that a bench would have written."""

from __future__ import annotations

import base64
import hashlib
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sqlalchemy import select

from ringwright.core.facts import Entry, Fact
from ringwright.furnaces.facts import FACTS as FURNACE_FACTS
from ringwright.furnaces.rules import fold as fold_run
from ringwright.handover.facts import FACTS as HANDOVER_FACTS
from ringwright.handover.facts import HandoverNoted, HandoverTaken
from ringwright.ledger.service import Handling
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Actor, Draft, Tx
from ringwright.machines.facts import FACTS as MACHINE_FACTS
from ringwright.material.facts import FACTS as MATERIAL_FACTS
from ringwright.parts.facts import FACTS as PART_FACTS
from ringwright.parts.knowledge import fold
from ringwright.routecards.queries import card_finder
from ringwright.sets.facts import FACTS as SET_FACTS
from ringwright.sites.facts import FACTS as SITE_FACTS
from ringwright.wallmaps.facts import FACTS as WALL_FACTS
from ringwright.welds.facts import FACTS as WELD_FACTS
from seed_demo.facts import SUBJECT, DemoOpened, DemoTold
from seed_demo.judge import refer
from seed_demo.recorder import with_readings
from seed_demo.story import Week
from seed_demo.taken import Subject, without_taken
from seed_demo.told import Told
from seed_demo.walls import with_walls
from seed_demo.welds import RING, Welding

TELLER = Actor(code="demo", roles=frozenset({"administrator"}))
_FACTS: dict[tuple[str, str], type[Fact]] = {
    (fact.subject_kind, fact.kind): fact
    for fact in (
        *(*PART_FACTS, *SET_FACTS, *SITE_FACTS),
        *(*FURNACE_FACTS, *HANDOVER_FACTS, *WALL_FACTS, *MATERIAL_FACTS, *WELD_FACTS),
        *MACHINE_FACTS,
    )
}


def pack(text: str) -> str:
    """Text, compressed so that it fits a fact."""
    return base64.b64encode(zlib.compress(text.encode(), 6)).decode()


def unpack(packed: str) -> str:
    """What `pack` packed."""
    return zlib.decompress(base64.b64decode(packed)).decode()


def digest_of(told: Sequence[Told]) -> str:
    """SHA-256 [hex] of what was told."""
    return hashlib.sha256(repr([tuple(one) for one in told]).encode()).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenDemo:
    """Mark the store as the demo's, with the moment its story starts."""

    operation: ClassVar[str] = "open demo"
    seed: int
    start_us: int
    story: int
    shown_us: int = 0
    key: str | None = "demo-opened"

    def body(self) -> Any:
        """Seed, start, story, and the day that is to be seen."""
        return [self.seed, self.start_us, self.story, self.shown_us]

    def subject(self) -> str:
        """The demo."""
        return SUBJECT


def open_demo(tx: Tx, command: OpenDemo) -> dict[str, Any]:
    """Record where the story begins."""
    fact = DemoOpened(
        seed=command.seed,
        start_us=command.start_us,
        story=command.story,
        shown_us=command.shown_us,
    )
    tx.append(Draft(fact=fact, subject=SUBJECT, at_us=tx.now_us))
    return {"start_us": command.start_us}


@dataclass(frozen=True, slots=True, kw_only=True)
class TellStory:
    """Tell the story on from where `record` stood; another start may have done it already."""

    operation: ClassVar[str] = "tell demo"
    key: str | None = None
    record: int
    """How many facts of the demo itself the record held when this was asked."""
    weeks: Iterable[Week]
    known: tuple[int, int]
    """The week told last and how many of its facts the record holds already."""
    spoken: frozenset[Subject]
    """What somebody else has booked on: theirs from then on."""
    fresh: bool
    """True for the first telling, when no part has a fact yet."""

    def body(self) -> Any:
        """Unused: the story knows how far it was told."""
        return self.record

    def subject(self) -> str:
        """The demo."""
        return SUBJECT


def tell_story(tx: Tx, command: TellStory) -> dict[str, Any]:
    """Append what is new of the story, and how far it has now been told."""
    if len(tx.history(SUBJECT, SUBJECT)) != command.record:
        return {"added": 0}  # somebody else has started the same store
    pen = _Pen(tx, command)
    first = tx.head_seq + 1
    last: Week | None = None
    for week in command.weeks:
        last = week
        pen.write(week)
    if last is None or not pen.count:
        return {"added": 0}
    kept = None if last.number == command.known[0] else pack(last.begun)
    fact = DemoTold(
        first=first,
        week=last.number,
        facts=len(last.told),
        digest=digest_of(last.told),
        kept=kept,
        left=tuple(sorted(pen.spoken - command.spoken)),
    )
    tx.append(Draft(fact=fact, subject=SUBJECT, at_us=tx.now_us))
    return {"added": pen.count}


def _with_files(tx: Tx, told: Sequence[Told]) -> list[Told]:
    """What is told, with the readings of furnaces and walls kept under their digests."""
    return with_walls(tx, with_readings(tx, told))


class _Pen:
    """Turns what is told into drafts, and knows which entry each fact of a part became."""

    def __init__(self, tx: Tx, command: TellStory) -> None:
        self.count = 0
        self.spoken = command.spoken
        self._tx, self._command = tx, command
        self._own: dict[str, list[int]] = {}
        self._notes: dict[str, list[int]] = {}
        self._known: dict[Subject, list[Entry]] = {}
        self._welding = Welding(tx)

    def write(self, week: Week) -> None:
        """Append what the record does not hold yet of this week."""
        index, facts = self._command.known
        told = week.told[facts:] if week.number == index else week.told
        if self.spoken:
            told, self.spoken = without_taken(self._tx, told, self.spoken)
            told = self._without_taken_sets(told)
        told = self._welding.beside(told)
        # Gauges were set before the story began; of parts a fresh store knows nothing.
        fresh = self._command.fresh
        self._recall([one for one in told if not fresh or one.subject_kind == "gauge"])
        drafts = self._drafts(_with_files(self._tx, told))
        self.count += len(self._tx.append_many(drafts, self._known))
        if not self._command.fresh:
            self._check(told)

    def _without_taken_sets(self, told: Sequence[Told]) -> list[Told]:
        """Leave out every set, and its blades' part in it, that somebody has laid hands on.

        A person may have reserved a blade the story wants, or held one it has: then the whole
        set is theirs, since half a set can be neither fitted nor sent.
        """
        codes = {one.subject for one in told if one.subject_kind == "set"}
        codes |= {str(one.data["set"]) for one in told if "set" in one.data}
        slots = self._slots(told, codes)
        spoken = self.spoken
        taken = {
            code
            for code in codes
            # One that neither the record holds nor this telling begins was taken before.
            if code not in slots
            or ("set", code) in spoken
            or any(("part", serial) in spoken for serial in slots[code])
        }
        blades = {serial for code in taken for serial in slots.get(code, ())}
        return [
            one
            for one in told
            if (one.subject if one.subject_kind == "set" else one.data.get("set")) not in taken
            and not (one.kind == "send" and one.subject in blades)
        ]

    def _slots(self, told: Sequence[Told], codes: set[str]) -> dict[str, list[str]]:
        """Every blade that each set has, or had, of those that are begun."""
        known = self._tx.histories("set", sorted(codes))
        slots = {
            code: [serial for entry in entries for serial in entry.data.get("slots", ())]
            for code, entries in known.items()
        }
        for one in told:
            if one.subject_kind == "set" and (one.kind == "reserve" or one.subject in slots):
                slots.setdefault(one.subject, []).extend(one.data.get("slots", ()))
        return slots

    def _recall(self, told: Sequence[Told]) -> None:
        """Read what the record holds of the subjects that are new in this command."""
        by_kind: dict[str, set[str]] = {}
        for one in told:
            if one[1:3] not in self._known:
                by_kind.setdefault(one.subject_kind, set()).add(one.subject)
        for kind, subjects in by_kind.items():
            found = self._tx.histories(kind, sorted(subjects))
            for subject in subjects:
                entries = self._known[kind, subject] = found.get(subject, [])
                if kind == "part":
                    self._own[subject] = [entry.seq for entry in entries]
                elif kind == HandoverNoted.subject_kind:
                    noted = [one.seq for one in entries if one.kind == HandoverNoted.kind]
                    self._notes[subject] = noted

    def _drafts(self, told: Sequence[Told]) -> Iterator[Draft]:
        tx, own = self._tx, self._own
        for one in told:
            data, corrects = one.data, None
            if one.subject_kind == "part":
                numbers = own.get(one.subject)
                if numbers is None:
                    numbers = own[one.subject] = []
                if one.ref >= 0:
                    data, corrects = refer(one, numbers)
                numbers.append(tx.head_seq + 1)
            elif one.subject_kind == HandoverNoted.subject_kind:
                data = self._of_shift(one)
            yield Draft(
                fact=_FACTS[one.subject_kind, one.kind](**data),
                subject=one.subject,
                at_us=one.at_us,
                known_us=one.at_us,
                actor=one.actor,
                station=one.station,
                corrects=corrects,
            )

    def _of_shift(self, one: Told) -> dict[str, Any]:
        """Notes are told by their place in the shift; the record names their entries."""
        noted = self._notes.setdefault(one.subject, [])
        if one.kind == HandoverTaken.kind:
            return {"notes": tuple(noted[place] for place in one.data["notes"])}
        noted.append(self._tx.head_seq + 1)
        return one.data

    def _check(self, told: Sequence[Told]) -> None:
        """Fold parts and runs told of; raises Refused where a rule forbids what was told."""
        find = card_finder(self._tx.connection, self._tx.site.id)
        for serial in {one.subject for one in told if one.subject_kind == "part"}:
            fold(serial, self._tx.history("part", serial), find)
        for code in {one.subject for one in told if one.subject_kind == "run"}:
            fold_run(code, self._tx.history("run", code))


def read_spoken(tx_read: Any, opened_seq: int, tellings: Sequence[Entry]) -> frozenset[Subject]:
    """The subjects of entries between the story's own, and what was left to people by them."""
    spoken = {(kind, code) for one in tellings for kind, code in one.data.get("left", ())}
    since = opened_seq
    for telling in [*tellings, None]:
        until = telling.data["first"] if telling else tx_read.head_seq + 1
        if until > since + 1:
            query = select(Event.subject_kind, Event.subject).where(
                Event.site_id == tx_read.site.id,
                Event.site_seq > since,
                Event.site_seq < until,
            )
            rows = tx_read.connection.execute(query)
            for row in rows:
                spoken.add((row.subject_kind, row.subject))
                if row.subject_kind == RING:
                    # Whoever recorded something of its welds has laid hands on the case.
                    spoken.add(("part", row.subject))
        since = telling.seq if telling else since
    return frozenset(spoken)


def demo_allowed(_command: object, actor: Actor) -> bool:
    """Only the program itself tells the story."""
    return actor is TELLER


HANDLINGS: dict[type, Handling] = {
    OpenDemo: Handling(open_demo, demo_allowed),
    TellStory: Handling(tell_story, demo_allowed),
}
