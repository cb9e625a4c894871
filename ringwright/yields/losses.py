"""What went into the parts that were scrapped: material, hours in work, hours in the cell."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select

from ringwright.core.calendar import HOUR_US, working_intervals, working_us
from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Reading, Visit
from ringwright.sites.queries import read_calendars
from ringwright.yields.queries import Sql
from ringwright.yields.scope import Narrowing, Scope

KG: Final = {"kg": 1.0, "g": 0.001}
"""Units that a mass is read in, in kilograms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """One scrapped part, and what it took."""

    serial: str
    at_us: int
    defect: str
    place: str
    found: int | None
    caused: int | None
    mass_kg: float | None
    """Its latest reading in g or kg; None where there is none."""
    touch_h: float
    """In work at the steps, pauses left out."""
    touch_working_h: float
    """Of the spans in work, pauses with them, what lay within the site's working time."""
    elapsed_h: float
    """From its creation to its scrap."""
    elapsed_working_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Parts lost for one reason, taken together."""

    key: Any
    parts: int
    weighed: int
    mass_kg: float
    touch_h: float
    touch_working_h: float
    elapsed_h: float
    elapsed_working_h: float


def together(key: Any, parts: Iterable[Lost]) -> Loss:
    """The sums of some parts."""
    own = list(parts)
    masses = [part.mass_kg for part in own if part.mass_kg is not None]
    return Loss(
        key=key, parts=len(own), weighed=len(masses), mass_kg=sum(masses),
        touch_h=sum(part.touch_h for part in own),
        touch_working_h=sum(part.touch_working_h for part in own),
        elapsed_h=sum(part.elapsed_h for part in own),
        elapsed_working_h=sum(part.elapsed_working_h for part in own),
    )  # fmt: skip


def by_reason(parts: Iterable[Lost], reason: Callable[[Lost], Any]) -> tuple[Loss, ...]:
    """Sums by a reason, most hours in work first: each list adds up to the whole."""
    found: dict[Any, list[Lost]] = {}
    for part in parts:
        found.setdefault(reason(part), []).append(part)
    losses = [together(key, own) for key, own in found.items()]
    return tuple(sorted(losses, key=lambda one: (-one.touch_h, -one.parts, str(one.key))))


def read_losses(read: Read, scope: Scope) -> tuple[Lost, ...]:
    """The parts scrapped in the window, in the order of time."""
    run, narrow = read.connection.execute, Narrowing(read, scope)
    lives = {row.serial: row for row in run(_scrapped(narrow))}
    calendars = read_calendars(read.connection, read.site.id, None, read.known_before_us)
    spans: dict[str, list[Any]] = {}
    for row in run(_visits(narrow)):
        spans.setdefault(row.serial, []).append(row)
    masses = {row.serial: row.value * KG[row.unit] for row in run(_masses(narrow))}
    first_us = min((row.created_us for row in lives.values()), default=0)
    last_us = max((row.scrapped_us for row in lives.values()), default=0)
    open_hours = working_intervals(calendars, first_us, last_us, read.site.zone)

    def working_h(start_us: int, end_us: int) -> float:
        return working_us(open_hours, start_us, end_us) / HOUR_US

    return tuple(
        _lost(row, spans.get(serial, ()), masses, working_h) for serial, row in lives.items()
    )


def _lost(
    life: Any,
    visits: Iterable[Any],
    masses: Mapping[str, float],
    working_h: Callable[[int, int], float],
) -> Lost:
    own = [(v.begin_us, min(v.end_us, life.scrapped_us), v.pause_us) for v in visits]
    begin_us, end_us = life.created_us, life.scrapped_us
    return Lost(
        serial=life.serial, at_us=end_us, defect=life.scrap_defect or "",
        place=life.scrap_place or "", found=life.found_step, caused=life.caused_step,
        mass_kg=masses.get(life.serial),
        touch_h=sum(max(0, end - begin - pause) for begin, end, pause in own) / HOUR_US,
        touch_working_h=sum(working_h(begin, end) for begin, end, _ in own),
        elapsed_h=(end_us - begin_us) / HOUR_US, elapsed_working_h=working_h(begin_us, end_us),
    )  # fmt: skip


def _gone(narrow: Narrowing) -> list[Any]:
    at = Life.scrapped_us
    return [
        narrow.happened(at, Life.scrapped_known_us, narrow.scope.start_us), *narrow.lives(at)
    ]  # fmt: skip


def _scrapped(narrow: Narrowing) -> Sql:
    """Parts scrapped in the window."""
    return (
        select(
            Life.serial, Life.created_us, Life.scrapped_us, Life.scrap_defect, Life.scrap_place,
            Life.found_step, Life.caused_step,
        )
        .where(*_gone(narrow))
        .order_by(Life.scrapped_us, Life.serial, Life.number)
    )  # fmt: skip


def _visits(narrow: Narrowing) -> Sql:
    """Their passes through steps, as far as they had ended and that was known."""
    read = narrow.read
    return select(Visit.serial, Visit.begin_us, Visit.end_us, Visit.pause_us).where(
        believed(read, Visit),
        Visit.step.is_not(None),
        Visit.end_us <= read.now_us,
        Visit.end_known_us < read.known_before_us,
        Visit.serial.in_(select(Life.serial).where(*_gone(narrow))),
    )


def _masses(narrow: Narrowing) -> Sql:
    """Their readings in grams or kilograms, the latest last."""
    read = narrow.read
    return (
        select(Reading.serial, Reading.value, Reading.unit)
        .where(
            believed(read, Reading),
            Reading.unit.in_(sorted(KG)),
            Reading.suspect.is_(None),
            Reading.at_known_us < read.known_before_us,
            Reading.serial.in_(select(Life.serial).where(*_gone(narrow))),
        )
        .order_by(Reading.at_us, Reading.number)
    )
