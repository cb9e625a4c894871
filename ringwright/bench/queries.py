"""What the Bench shows of one part, and what waits for a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, func, select, union_all

from ringwright.bench.windowing import WindowNow, read_window
from ringwright.core.practice import serial_of
from ringwright.db import FOREVER_US
from ringwright.ledger.service import Read
from ringwright.parts.queries import PartCard, read_events, read_part
from ringwright.parts.tables import Life, Nonconformity, PartMark, PartNow, Reading, Visit
from ringwright.routecards.card import Characteristic, RouteCard, Step
from ringwright.routecards.queries import card_finder

LAST_READINGS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """One characteristic of the step: limits, this part's last value, the last ten others."""

    code: str
    unit: str
    decimals: int
    nominal: float | None
    lower: float | None
    upper: float | None
    value: float | None
    inside: bool | None
    last: tuple[float, ...]
    """Up to ten readings of other parts, oldest first."""
    of: Characteristic
    uncertainty: float | None = None
    """One standard uncertainty of `value`; None where it is not known."""
    gauge: str | None = None
    suspect: str | None = None
    """Why `value` is suspect; None: it is not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenNonconformity:
    """A stop that waits for its sentence."""

    number: int
    serial: str
    product: str
    defect: str
    found_step: int | None
    place_on_part: str | None
    note: str | None
    opened_us: int
    opened_by: str
    priority: int = 0
    """1 where the part goes first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSheet:
    """One part on the bench."""

    part: PartCard
    card: RouteCard
    step: Step | None
    next_step: Step | None
    visit: int
    """Which visit to this step it is, from 1."""
    begun_us: int | None
    rulers: tuple[Ruler, ...]
    done: tuple[Any, ...]
    """Its ended visits, oldest first: step, outcome, end_us, defect, actor."""
    nonconformities: tuple[OpenNonconformity, ...]
    events: Sequence[Any]
    window: WindowNow | None = None
    """What must begin by when, or ran out of its time."""

    @property
    def fully_read(self) -> bool:
        """True when every characteristic of the step has been read inside its limits."""
        return all(ruler.inside for ruler in self.rulers)


def read_bench_sheet(read: Read, serial: str) -> BenchSheet:
    """Everything the Bench shows of a part; raises Missing or Refused (a retired mark)."""
    part = read_part(read, serial)
    card = card_finder(read.connection, read.site.id)(part.product, part.revision)
    visits = _visits(read, part.serial)
    number = part.step
    step = card.by_number.get(number) if number is not None else None
    open_visit = visits[-1] if part.place == "in work" and visits else None
    after = card.after(number) if number is not None else None
    return BenchSheet(
        part=part,
        card=card,
        step=step,
        next_step=card.by_number[after] if after else None,
        visit=sum(row.step == number for row in visits) + (open_visit is None),
        begun_us=open_visit.begin_us if open_visit else None,
        rulers=_rulers(read, part, step, open_visit),
        done=tuple(row for row in visits if row.outcome is not None),
        nonconformities=tuple(read_open_nonconformities(read, part.serial)),
        events=read_events(read, part.serial),
        window=read_window(read, part, card),
    )


def _visits(read: Read, serial: str) -> Sequence[Any]:
    query = (
        select(
            Visit.number,
            Visit.step,
            Visit.begin_us,
            Visit.end_us,
            Visit.outcome,
            Visit.defect,
            Visit.actor,
            Visit.station,
        )
        .where(
            Visit.site_id == read.site.id,
            Visit.serial == serial,
            Visit.known_to_us >= read.known_before_us,
            Visit.step.is_not(None),
        )
        .order_by(Visit.number)
    )
    return read.connection.execute(query).all()


def _rulers(read: Read, part: PartCard, step: Step | None, visit: Any) -> tuple[Ruler, ...]:
    if step is None:
        return ()
    own = _own(read, part, visit.number) if visit is not None else {}
    return tuple(_ruler(read, part, step.number, item, own) for item in step.characteristics)


def _own(read: Read, part: PartCard, visit: int) -> dict[str, Any]:
    """Characteristic to its last reading in the open visit."""
    query = (
        select(
            Reading.characteristic, Reading.value, Reading.uncertainty, Reading.gauge,
            Reading.suspect,
        )
        .where(
            Reading.site_id == read.site.id,
            Reading.serial == part.serial,
            Reading.visit == visit,
            Reading.known_to_us >= read.known_before_us,
        )
        .order_by(Reading.at_us, Reading.number)
    )  # fmt: skip
    return {row.characteristic: row for row in read.connection.execute(query)}


def _ruler(
    read: Read, part: PartCard, step: int, item: Characteristic, own: dict[str, Any]
) -> Ruler:
    row = own.get(item.code)
    inside = row is not None and item.inside(row.value, row.uncertainty)
    return Ruler(
        code=item.code,
        unit=item.unit,
        decimals=item.decimals,
        nominal=item.nominal,
        lower=item.lower,
        upper=item.upper,
        value=row.value if row is not None else None,
        inside=None if row is None else inside and row.suspect is None,
        last=_last(read, part, step, item.code),
        of=item,
        uncertainty=row.uncertainty if row is not None else None,
        gauge=row.gauge if row is not None else None,
        suspect=row.suspect if row is not None else None,
    )


def _last(read: Read, part: PartCard, step: int, code: str) -> tuple[float, ...]:
    query = (
        select(Reading.value)
        .where(
            Reading.site_id == read.site.id,
            Reading.step == step,
            Reading.characteristic == code,
            Reading.serial != part.serial,
            Reading.known_to_us >= read.known_before_us,
            Reading.product == part.product,
        )
        .order_by(Reading.at_us.desc())
        .limit(LAST_READINGS)
    )
    return tuple(reversed(read.connection.execute(query).scalars().all()))


def read_open_nonconformities(read: Read, serial: str | None = None) -> list[OpenNonconformity]:
    """Stops without a sentence, the oldest first; of one part if given."""
    names = [name for name in OpenNonconformity.__dataclass_fields__ if name != "priority"]
    query = (
        select(*(getattr(Nonconformity, name) for name in names), PartNow.priority)
        .join(
            PartNow,
            and_(
                PartNow.site_id == Nonconformity.site_id,
                PartNow.serial == Nonconformity.serial,
            ),
        )
        .where(
            Nonconformity.site_id == read.site.id,
            Nonconformity.known_to_us >= read.known_before_us,
            # By index: however many were ever closed, only the open ones are looked at.
            Nonconformity.closed_us == FOREVER_US,
            Nonconformity.decision.is_(None),
        )
        .order_by(Nonconformity.opened_us)
    )
    if serial is not None:
        query = query.where(Nonconformity.serial == serial)
    return [
        OpenNonconformity(**{name: getattr(row, name) for name in (*names, "priority")})
        for row in read.connection.execute(query)
    ]


def read_scrapped_whole(read: Read) -> Sequence[Any]:
    """Scrapped parts nobody has witnessed made unusable, the oldest first."""
    query = (
        select(Life.serial, Life.product, Life.scrapped_us, Life.scrap_defect, PartNow.kept)
        .join(PartNow, (PartNow.site_id == Life.site_id) & (PartNow.serial == Life.serial))
        .where(
            Life.site_id == read.site.id,
            Life.known_to_us >= read.known_before_us,
            Life.scrapped_us.is_not(None),
            Life.witnessed_us.is_(None),
        )
        .order_by(Life.scrapped_us)
    )
    return read.connection.execute(query).all()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftCount:
    """What was ended at a station since an instant."""

    passed: int
    reworked: int
    stopped: int


def read_shift_count(read: Read, station: str, since_us: int) -> ShiftCount:
    """Passes, reworks and stops booked at a station since the shift began."""
    visits = select(Visit.outcome).where(
        Visit.site_id == read.site.id,
        Visit.station == station,
        Visit.known_to_us >= read.known_before_us,
        Visit.end_us >= since_us,
        Visit.outcome.is_not(None),
    )
    outcomes = read.connection.execute(visits).scalars().all()
    stops = select(Nonconformity.number).where(
        Nonconformity.site_id == read.site.id,
        Nonconformity.station == station,
        Nonconformity.known_to_us >= read.known_before_us,
        Nonconformity.opened_us >= since_us,
    )
    return ShiftCount(
        passed=outcomes.count("pass"),
        reworked=outcomes.count("rework"),
        stopped=len(read.connection.execute(stops).all()),
    )


def find_serial(read: Read, text: str) -> str:
    """The serial or mark as recorded for what was scanned, whatever its letters' case.

    As scanned when that is one, or when other spellings of it are none or several. Raises
    Refused for a practice label at a real site.
    """
    text = serial_of(text, practice=read.site.practice_of is not None)
    own = select(PartNow.serial).where(PartNow.site_id == read.site.id)
    marks = select(PartMark.mark).where(PartMark.site_id == read.site.id)
    if read.connection.execute(
        union_all(own.where(PartNow.serial == text), marks.where(PartMark.mark == text))
    ).first():
        return text
    lower = text.lower()
    alike = union_all(
        own.where(func.lower(PartNow.serial) == lower),
        marks.where(func.lower(PartMark.mark) == lower),
    )
    found = set(read.connection.execute(alike.limit(3)).scalars())
    return str(found.pop()) if len(found) == 1 else text


DEFECTS_SINCE_US = 90 * 24 * 3600 * 1_000_000


def read_recent_defects(read: Read, sheet: BenchSheet) -> Sequence[str]:
    """Defects that visits of the product to this step ended with in 90 days, by frequency."""
    if sheet.step is None:
        return ()
    query = (
        select(Visit.defect)
        .where(
            Visit.site_id == read.site.id,
            Visit.product == sheet.part.product,
            Visit.step == sheet.step.number,
            Visit.known_to_us >= read.known_before_us,
            Visit.end_us >= read.now_us - DEFECTS_SINCE_US,
            Visit.defect.is_not(None),
        )
        .group_by(Visit.defect)
        .order_by(func.count().desc(), Visit.defect)
        .limit(LAST_READINGS)
    )
    return [str(defect) for defect in read.connection.execute(query).scalars()]
