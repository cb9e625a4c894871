"""Every touch of a suspect, by index: as many rows are read as parts were touched.

Each statement is one kind of suspect; all answer with the same columns, so that a page need
not know which one was asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import ColumnElement, Select, and_, case, literal, null, or_, select, union

from ringwright.core.errors import Missing
from ringwright.db import FOREVER_US
from ringwright.flow.loads import parse_load
from ringwright.flow.queries import believed
from ringwright.furnaces.queries import read_run
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Nonconformity, PartMark, PartNow, Reading, Visit
from ringwright.trace.question import Question, step_of

DAY_US: Final = 24 * 3600 * 1_000_000
LONGEST_VISIT_US: Final = 31 * DAY_US
"""A visit that began before a window and ended after it is looked for as far as this."""
RUN_ROWS: Final = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One meeting of a part with the suspect; `how` is the word for it."""

    serial: str
    how: str
    at_us: int
    end_us: int
    product: str = ""
    step: int | None = None
    station: str = ""
    run: str = ""
    """The furnace run that the visit began with."""
    made_from: str = ""
    """The touched part it was made from, where it was touched only through that."""


def read_touches(read: Read, question: Question) -> list[Touch]:
    """Every touch of the suspect itself, in the order of time; raises Missing for no part."""
    if question.kind == "run":
        return list(_run(read, *_load_of(read, question.value)))
    if question.kind == "part":
        return [_part(read, question.value)]
    rows = read.connection.execute(_statement(read, question))
    return sorted((_touch(row) for row in rows), key=lambda t: (t.at_us, t.serial, t.how))


def _touch(row: Any) -> Touch:
    return Touch(
        serial=row.serial,
        how=row.how,
        at_us=row.at_us,
        end_us=row.end_us,
        product=row.product,
        step=row.step,
        station=row.station or "",
        run=row.run or "",
    )


def _statement(read: Read, question: Question) -> Any:
    match question.kind:
        case "station":
            return _at_station(read, question)
        case "lot":
            return _of_lot(read, question)
        case "gauge":
            return _by_gauge(read, question)
        case "person":
            return _by_person(read, question)
        case "step":
            return _at_step(read, question)
        case _:
            return _with_defect(read, question)


def _visits(read: Read, *conditions: Any) -> Select[Any]:
    """Visits as touches; as of a past moment one that had not ended then is still open."""
    end: Any = Visit.end_us
    known: tuple[Any, ...] = ()
    if read.as_of_us is not None:
        known = (Visit.begin_known_us < read.known_before_us,)
    return select(
        Visit.serial,
        literal("visit").label("how"),
        Visit.begin_us.label("at_us"),
        end.label("end_us"),
        Visit.product,
        Visit.step,
        Visit.station,
        Visit.run,
    ).where(believed(read, Visit), Visit.step.is_not(None), *known, *conditions)


def _in_window(instant: Any, question: Question) -> ColumnElement[bool]:
    return and_(instant >= question.start_us, instant < question.end_us)


def _at_station(read: Read, question: Question) -> Any:
    """Visits at the station that overlap the window: begun in it, ended in it, or around it."""
    here = Visit.station == question.value
    begun = _visits(read, here, _in_window(Visit.begin_us, question))
    if question.from_us is None:
        return begun
    # Ends are searched by their own index, each span of it once; begins must not tempt.
    before = Visit.begin_us + 0 < question.start_us
    ended = _visits(read, here, before, Visit.end_us > question.start_us,
                    Visit.end_us < question.end_us)  # fmt: skip
    still_open = _visits(read, here, before, Visit.end_us == FOREVER_US)
    around = _visits(
        read,
        here,
        before,
        Visit.end_us >= question.end_us,
        Visit.end_us < question.end_us + LONGEST_VISIT_US,
    )
    return union(begun, ended, still_open, around)


def _of_lot(read: Read, question: Question) -> Any:
    """Parts created from the lot, and visits that used it."""
    created = _in_window(Life.created_us, question)
    known = () if read.as_of_us is None else (Life.created_known_us < read.known_before_us,)
    lives = select(
        Life.serial,
        literal("created").label("how"),
        Life.created_us.label("at_us"),
        Life.created_us.label("end_us"),
        Life.product,
        null().label("step"),
        literal("").label("station"),
        literal("").label("run"),
    ).where(believed(read, Life), Life.lot == question.value, created, *known)
    used = _visits(read, Visit.lot == question.value, _in_window(Visit.begin_us, question))
    return union(lives, used)


def _by_gauge(read: Read, question: Question) -> Any:
    """Readings taken with the gauge."""
    known = () if read.as_of_us is None else (Reading.at_known_us < read.known_before_us,)
    return select(
        Reading.serial,
        literal("reading").label("how"),
        Reading.at_us,
        Reading.at_us.label("end_us"),
        Reading.product,
        Reading.step,
        literal("").label("station"),
        literal("").label("run"),
    ).where(
        believed(read, Reading),
        Reading.gauge == question.value,
        _in_window(Reading.at_us, question),
        *known,
    )


def _by_person(read: Read, question: Question) -> Any:
    """Visits that the person began, went on with or ended."""
    begun = _visits(read, Visit.actor == question.value, _in_window(Visit.begin_us, question))
    known = () if read.as_of_us is None else (Visit.end_known_us < read.known_before_us,)
    ended = _visits(
        read, Visit.ended_by == question.value, _in_window(Visit.end_us, question), *known
    )
    return union(begun, ended)


def _at_step(read: Read, question: Question) -> Any:
    """Visits to the step that overlap the window, found by when they ended."""
    product, step = step_of(question.value)
    return _visits(
        read,
        Visit.product == product,
        Visit.step == step,
        Visit.end_us > question.start_us,
        or_(Visit.end_us < question.end_us + LONGEST_VISIT_US, Visit.end_us == FOREVER_US),
        Visit.begin_us < question.end_us,
    )


def _with_defect(read: Read, question: Question) -> Any:
    """Stops for the defect, and visits that ended with it."""
    stopped = _in_window(Nonconformity.opened_us, question)
    known = (
        () if read.as_of_us is None else (Nonconformity.opened_known_us < read.known_before_us,)
    )
    stops = select(
        Nonconformity.serial,
        literal("stop").label("how"),
        Nonconformity.opened_us.label("at_us"),
        Nonconformity.opened_us.label("end_us"),
        Nonconformity.product,
        Nonconformity.found_step.label("step"),
        Nonconformity.station,
        literal("").label("run"),
    ).where(
        believed(read, Nonconformity), Nonconformity.defect == question.value, stopped, *known
    )
    ended = _visits(read, Visit.defect == question.value, _in_window(Visit.end_us, question))
    return union(stops, ended)


def _load_of(read: Read, value: str) -> tuple[str, int]:
    """Station and first begin of a load, named by them or as a furnace run; raises Missing."""
    if "@" in value:
        return parse_load(value, read.site.zone)
    run = read_run(read.connection, read.site.id, value)
    if run is None or run.started_us is None:
        raise Missing(f"no furnace run {value} has begun; a load is STATION@BEGIN")
    return run.furnace, run.started_us


def _run(read: Read, station: str, begin_us: int) -> Iterator[Touch]:
    """The visits of one load, from the begin that names it on (see `ringwright.flow.loads`).

    Those of another furnace run are another load, though they may overlap.
    """
    query = _visits(read, Visit.station == station, Visit.begin_us >= begin_us)
    if not station:
        query = query.where(Visit.begin_us == begin_us)
    ends: dict[tuple[int, str], int] = {}
    rows = read.connection.execute(query.order_by(Visit.begin_us, Visit.serial))
    for row in rows.yield_per(RUN_ROWS):
        if row.at_us > begin_us and row.at_us >= max(ends.values(), default=begin_us):
            break
        first = row.at_us == begin_us
        load = (row.step, row.run)
        if first or row.at_us < ends.get(load, begin_us):
            ends[load] = max(ends.get(load, row.end_us), row.end_us)
            yield _touch(row)
    rows.close()


def _part(read: Read, text: str) -> Touch:
    """The part itself, by any mark it bears or bore."""
    serial = find_part(read, text)
    row = read.connection.execute(
        select(Life.created_us, Life.product).where(believed(read, Life), Life.serial == serial)
    ).first()
    if row is None:
        raise Missing(f"there was no part {text} at that time")
    return Touch(
        serial=serial, how="itself", at_us=row.created_us, end_us=row.created_us,
        product=row.product,
    )  # fmt: skip


def find_part(read: Read, text: str) -> str:
    """The serial of a part from any mark, retired ones too; raises Missing.

    The Bench refuses a retired mark, since the part before it bears another; whoever looks
    into the past may know no other.
    """
    site = read.site.id
    own = select(PartNow.serial, literal(0).label("rank")).where(
        PartNow.site_id == site, PartNow.serial == text
    )
    rank = case((PartMark.retired, 2), else_=1).label("rank")
    marked = select(PartMark.serial, rank).where(
        PartMark.site_id == site, PartMark.mark == text
    )
    found = sorted(read.connection.execute(union(own, marked)), key=lambda row: row.rank)
    if not found:
        raise Missing(f"there is no part {text} at {read.site.name or read.site.code}")
    return str(found[0].serial)


def near_serials(read: Read, text: str, most: int = 8) -> list[str]:
    """Serials that stand beside a text in the order of serials: for somebody who mistyped."""
    base = select(PartNow.serial).where(PartNow.site_id == read.site.id)
    after = base.where(PartNow.serial >= text).order_by(PartNow.serial).limit(most)
    before = base.where(PartNow.serial < text).order_by(PartNow.serial.desc()).limit(most)
    rows = [
        *read.connection.execute(before).scalars(),
        *read.connection.execute(after).scalars(),
    ]
    ranked = sorted(map(str, rows), key=lambda serial: (_unlike(serial, text), serial))
    return sorted(ranked[:most])


def _unlike(serial: str, text: str) -> int:
    """How many letters differ, place by place, whatever their case; lengths count too."""
    one, other = serial.lower(), text.lower()
    same = sum(a == b for a, b in zip(one, other, strict=False))
    return max(len(one), len(other)) - same


def chunks(serials: Iterable[str], size: int = 1000) -> Iterator[Sequence[str]]:
    """Serials in pieces that one statement can name."""
    listed = list(serials)
    for start in range(0, len(listed), size):
        yield listed[start : start + size]
