"""A shift as one snapshot: what changed in it, and what it leaves standing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from ringwright.core.calendar import parse_instant
from ringwright.core.errors import Refused
from ringwright.floor.model import FloorSheet, Standing
from ringwright.floor.standing import read_floor
from ringwright.flow.queries import MOMENTS, Window, life_counts
from ringwright.flow.service import moment_of
from ringwright.handover import queries
from ringwright.handover.rules import Note, Span, span_at
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.sites.queries import read_calendars

OUTCOMES: Final = ("pass", "rework", "repair", "concession", "scrap")
BY_SENTENCE, BY_CLEARING, BY_LIFTING = "sentence", "clearing", "lifting"
"""What lifts a hold: the sentence on its nonconformity, its containment, or somebody's word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepDone:
    """Visits at one step that ended in the shift, by outcome in the order of OUTCOMES."""

    product: str
    step: int
    name: str
    counts: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWaits:
    """What waits at one step, and which part the longest."""

    product: str
    step: int
    name: str
    parts: int
    held: int
    late: int
    oldest: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One part on hold."""

    serial: str
    product: str
    reason: str
    since_us: int
    where: str
    """The step it stands at; empty where it stands at none."""
    lifted_by: str
    containment: str = ""


@dataclass(frozen=True, kw_only=True)
class HandoverSheet:
    """Everything the page shows."""

    drawn: Snapshot
    span: Span
    before: Span
    after: Span | None
    """None while the shift is the one under way."""
    at_us: int
    """When what it leaves was counted: its end, or now."""
    done: tuple[StepDone, ...]
    lives: dict[str, int]
    """`created`, `released`, `scrapped`, `used`: parts in the shift."""
    visits: tuple[Any, ...]
    holds: tuple[Any, ...]
    stops: tuple[Any, ...]
    told: tuple[Any, ...]
    corrections: tuple[Any, ...]
    waits: tuple[StepWaits, ...]
    held: tuple[Held, ...]
    windows: tuple[Standing, ...]
    floor: FloorSheet
    handed: tuple[Note, ...]
    """Notes of earlier shifts that were not taken over when this one began."""
    notes: tuple[Note, ...]
    """Notes of this shift."""

    @property
    def zone(self) -> str:
        """The site's zone."""
        return self.drawn.zone

    @property
    def outcomes(self) -> Counter[str]:
        """Visits ended, by outcome."""
        return Counter(row.outcome or "" for row in self.visits)

    @property
    def open_notes(self) -> tuple[Note, ...]:
        """Notes handed to this shift that nobody has taken over yet."""
        return tuple(note for note in self.handed if note.taken_us is None)


def span_asked(read: Read, shift: str | None) -> Span:
    """The shift that holds the instant asked for, or this moment; raises Refused."""
    zone, at_us = read.site.zone, read.now_us
    if shift:
        try:
            at_us = parse_instant(shift, zone)
        except ValueError as trouble:
            raise Refused(str(trouble)) from None
    span = _span(read, at_us)
    if span.start_us > read.now_us:
        raise Refused("that shift has not begun; nothing is known of it")
    return span


def _span(read: Read, at_us: int) -> Span:
    calendars = read_calendars(read.connection, read.site.id, None, read.known_before_us)
    return span_at(calendars, at_us, read.site.zone)


def read_handover(read: Read, shift: str | None) -> HandoverSheet:
    """The shift under way, or the one that holds an instant; raises Refused.

    The number of statements never depends on what happened in it.
    """
    span = span_asked(read, shift)
    over = span.over(read.now_us)
    # Half open: what happens at the very end belongs to the next shift.
    then = replace(read, now_us=span.end_us - 1) if over else read
    at_us = span.end_us if over else moment_of(read)
    floor = read_floor(then, all_products=True)
    products = tuple(one.code for one in floor.products)
    window = Window(products=products, start_us=span.start_us, end_us=at_us)
    run = read.connection.execute
    visits = tuple(run(queries.ended_visits(read, window)))
    lives: Counter[str] = Counter(dict.fromkeys(MOMENTS, 0))
    for row in run(life_counts(read, window)):
        lives[row.moment] += row.parts
    return HandoverSheet(
        drawn=snapshot_of(read, to_the_minute=True),
        span=span,
        before=_span(read, span.start_us - 1),
        after=_span(read, span.end_us) if over else None,
        at_us=at_us if over else read.now_us,
        done=_done(visits, floor),
        lives=dict(lives),
        visits=visits,
        holds=tuple(run(queries.holds_moved(read, window))),
        stops=tuple(run(queries.stops(read, window))),
        told=tuple(run(queries.told(read, window))),
        corrections=tuple(run(queries.corrections(read, window))),
        waits=_waits(floor),
        held=_held(read, at_us, floor),
        windows=_windows(floor),
        floor=floor,
        handed=tuple(queries.notes_handed(read, span.start_us)),
        notes=tuple(queries.notes_of(read, span.start_us, span.end_us)),
    )


def _done(visits: Sequence[Any], floor: FloorSheet) -> tuple[StepDone, ...]:
    counts: dict[tuple[str, int], Counter[str]] = {}
    for row in visits:
        counts.setdefault((row.product, row.step), Counter())[row.outcome or ""] += 1
    order = [one.code for one in floor.products]
    return tuple(
        StepDone(
            product=product,
            step=step,
            name=floor.names.get((product, step), ""),
            counts=tuple(counts[product, step][outcome] for outcome in OUTCOMES),
        )
        for product, step in sorted(counts, key=lambda one: (order.index(one[0]), one[1]))
    )


def _waits(floor: FloorSheet) -> tuple[StepWaits, ...]:
    """By the wait of the part that waits longest, the longest first."""
    steps: dict[tuple[str, int], list[Standing]] = {}
    for part in floor.parts:
        if not part.in_work:
            steps.setdefault((part.product, part.step), []).append(part)
    found = [
        StepWaits(
            product=product,
            step=step,
            name=floor.names.get((product, step), ""),
            parts=len(parts),
            held=sum(part.hold is not None for part in parts),
            late=sum(part.late for part in parts),
            oldest=parts[0],
        )
        for (product, step), parts in steps.items()
    ]
    return tuple(sorted(found, key=lambda one: (one.oldest.since_us, one.product, one.step)))


def _held(read: Read, at_us: int, floor: FloorSheet) -> tuple[Held, ...]:
    run = read.connection.execute
    rows = run(queries.open_holds(read, at_us)).all()
    serials = [row.serial for row in rows]
    stopped = {row.serial for row in run(queries.stopped(read, at_us, serials))}
    inside = {row.serial: row.value for row in run(queries.contained(read, at_us, serials))}
    stands = {
        part.serial: f"{part.step} {floor.names.get((part.product, part.step), '')}".strip()
        for part in floor.parts
    }
    return tuple(
        Held(
            serial=row.serial,
            product=row.product,
            reason=row.reason,
            since_us=row.from_us,
            where=stands.get(row.serial, ""),
            lifted_by=_lifted_by(row.serial, stopped, inside),
            containment=inside.get(row.serial, ""),
        )
        for row in rows
    )


def _lifted_by(serial: str, stopped: set[str], inside: dict[str, str]) -> str:
    if serial in stopped:
        return BY_SENTENCE
    return BY_CLEARING if serial in inside else BY_LIFTING


def _windows(floor: FloorSheet) -> tuple[Standing, ...]:
    """Parts inside a window, or past one, the first to end first."""
    found = [part for part in floor.parts if part.window is not None]
    return tuple(
        sorted(found, key=lambda part: (part.window.deadline_us, part.serial))  # type: ignore[union-attr]
    )
