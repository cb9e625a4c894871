"""The editions of a published week, and the later entries that changed what they say."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import and_, or_, select, union
from sqlalchemy.orm import aliased

from ringwright.core.calendar import iso_text
from ringwright.core.glossary import N_
from ringwright.db import FOREVER_US
from ringwright.flow.model import WeekNumbers
from ringwright.flow.queries import Sql
from ringwright.flow.service import week_json
from ringwright.flow.tables import PublishedWeek
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event
from ringwright.parts.tables import Life, Visit

MOST_LATER: Final = 50
"""Later entries listed on the page; how many there are in all is said."""

CORRECTED, REVOKED, LATE = N_("correction"), N_("release revoked"), N_("booked late")
"""What kind of later entry changes a week that was published."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition:
    """One publication of one product's week."""

    number: int
    """1 for the first, counted by product and week."""
    entry: int
    product: str
    week: str
    at_us: int
    actor: str
    head_seq: int
    head_hash: str
    output: int
    reason: str | None
    numbers: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Later:
    """An entry made after a publication that bears on the published week."""

    entry: int
    serial: str
    why: str
    kind: str
    at_us: int
    recorded_us: int
    actor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What was booked on the week since its newest edition."""

    later: tuple[Later, ...]
    """Corrections, revoked releases and late bookings, oldest first."""
    went_on: int
    """Bookings of what happened after the publication of a week that still ran."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """Everything about the publishing of one product's week."""

    editions: tuple[Edition, ...]
    """Oldest first."""
    changes: Changes | None
    numbers_now: dict[str, Any]

    @property
    def newest(self) -> Edition | None:
        """The edition that holds."""
        return self.editions[-1] if self.editions else None

    @property
    def restated(self) -> bool:
        """True when the output is no more the one that was published."""
        newest = self.newest
        return newest is not None and newest.output != self.numbers_now["output"]


def published_editions(read: Read, week: str | None, product: str | None) -> Sql:
    """Editions of published weeks as known, oldest first; of one week and product if given."""
    query = select(PublishedWeek).where(
        PublishedWeek.site_id == read.site.id,
        PublishedWeek.known_us < read.known_before_us,
    )
    if week is not None:
        query = query.where(PublishedWeek.week == week)
    if product is not None:
        query = query.where(PublishedWeek.product == product)
    return query.order_by(PublishedWeek.number)


def read_editions(
    read: Read, week: str | None = None, product: str | None = None
) -> tuple[Edition, ...]:
    """The editions of published weeks, oldest first."""
    counted: dict[tuple[str, str], int] = {}
    found = []
    # As columns, so that no edition is read as an object of a session.
    for row in read.connection.execute(published_editions(read, week, product)):
        subject = (row.product, row.week)
        counted[subject] = counted.get(subject, 0) + 1
        found.append(_edition(row, counted[subject]))
    return tuple(found)


def _edition(row: Any, number: int) -> Edition:
    return Edition(
        number=number,
        entry=row.number,
        product=row.product,
        week=row.week,
        at_us=row.at_us,
        actor=row.actor,
        head_seq=row.head_seq,
        head_hash=row.head_hash,
        output=row.output,
        reason=row.reason,
        numbers=json.loads(row.numbers),
    )


def read_publications(read: Read, numbers: Sequence[WeekNumbers]) -> tuple[Publication, ...]:
    """The publishing of each of some products' weeks, which are all the same week."""
    week = numbers[0].week if numbers else ""
    editions = read_editions(read, week)
    return tuple(_publication(read, each, editions) for each in numbers)


def _publication(read: Read, numbers: WeekNumbers, editions: Sequence[Edition]) -> Publication:
    mine = tuple(e for e in editions if e.product == numbers.product)
    return Publication(
        editions=mine,
        changes=read_changes(read, mine[-1], numbers) if mine else None,
        numbers_now=week_json(numbers),
    )


def read_changes(read: Read, edition: Edition, numbers: WeekNumbers) -> Changes:
    """What was booked since an edition on parts that had anything in its week."""
    revoked = set(read.connection.execute(once_released(read, numbers)).scalars())
    later: list[Later] = []
    went_on = 0
    for row in read.connection.execute(later_entries(read, numbers, edition.head_seq)):
        why = _why(row, numbers.end_us, edition, revoked)
        if why == "":
            went_on += 1
        elif why is not None:
            later.append(_later(row, why))
    return Changes(later=tuple(later), went_on=went_on)


def once_released(read: Read, week: WeekNumbers) -> Sql:
    """Serials once believed released in the window and not believed so any more."""
    known = read.known_before_us
    return select(Life.serial).where(
        Life.site_id == read.site.id,
        Life.product == week.product,
        Life.released_us >= week.start_us,
        Life.released_us < week.end_us,
        Life.known_to_us < min(known, FOREVER_US),
    )


def later_entries(read: Read, week: WeekNumbers, head_seq: int) -> Sql:
    """Entries after `head_seq` on parts that were ever believed to have come, gone or ended a
    visit in the window: those of the window itself, corrections and sentences."""
    touched = union(
        *(_lives(read, week, moment) for moment in _LIFE_MOMENTS), _visits(read, week)
    )
    corrected = aliased(Event)
    return (
        select(
            Event.site_seq, Event.subject, Event.kind, Event.at_us, Event.recorded_at_us,
            Event.actor, Event.payload, corrected.at_us.label("corrected_us"),
        )
        .outerjoin(
            corrected,
            and_(corrected.site_id == Event.site_id, corrected.site_seq == Event.corrects),
        )
        .where(
            Event.site_id == read.site.id,
            Event.subject_kind == "part",
            # By the parts' index: few parts, however much came after. With the number bare a
            # store would rather walk through every later entry.
            Event.subject.in_(touched),
            Event.site_seq + 0 > head_seq,
            Event.known_at_us < read.known_before_us,
            or_(Event.at_us < week.end_us, Event.kind.in_(("correct", "sentence"))),
        )
        .order_by(Event.site_seq + 0)
    )  # fmt: skip


_LIFE_MOMENTS: Final = (Life.created_us, Life.released_us, Life.scrapped_us)


def _lives(read: Read, week: WeekNumbers, moment: Any) -> Sql:
    return select(Life.serial).where(
        Life.site_id == read.site.id,
        Life.product == week.product,
        moment >= week.start_us,
        moment < week.end_us,
    )


def _visits(read: Read, week: WeekNumbers) -> Sql:
    return select(Visit.serial).where(
        Visit.site_id == read.site.id,
        Visit.product == week.product,
        Visit.end_us >= week.start_us,
        Visit.end_us < week.end_us,
    )


def _why(row: Any, end_us: int, edition: Edition, revoked: set[str]) -> str | None:
    """Why an entry bears on the week: a word, "" for what just went on, None for not at all."""
    if row.kind == "correct":
        moved_us = (json.loads(row.payload).get("fields") or {}).get("at_us")
        moments = [us for us in (row.corrected_us, moved_us) if us is not None]
        return CORRECTED if any(us < end_us for us in moments) else None
    if row.kind == "sentence" and row.subject in revoked:
        return REVOKED
    if row.at_us >= end_us:
        return None
    return LATE if row.at_us < edition.at_us else ""


def _later(row: Any, why: str) -> Later:
    return Later(
        entry=row.site_seq,
        serial=row.subject,
        why=why,
        kind=row.kind,
        at_us=row.at_us,
        recorded_us=row.recorded_at_us,
        actor=row.actor,
    )


def edition_json(edition: Edition, zone: str) -> dict[str, Any]:
    """An edition with the names of the API."""
    return {
        "product": edition.product,
        "week": edition.week,
        "edition": edition.number,
        "entry": edition.entry,
        "at": iso_text(edition.at_us, zone),
        "by": edition.actor,
        "reason": edition.reason,
        "head_seq": edition.head_seq,
        "head_hash": edition.head_hash,
        "output": edition.output,
        "numbers": edition.numbers,
    }
