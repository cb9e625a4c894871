"""Another record's history, taken in whole or not at all, every bad row named with its line."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from sqlalchemy import or_, select

from ringwright.bench.rules import (
    TEXTS,
    Booking,
    fact_of,
    make_booking,
    parse_step,
    parse_value,
)
from ringwright.core.calendar import parse_instant
from ringwright.core.errors import BadRows, Refused, RingwrightError
from ringwright.core.facts import Entry
from ringwright.core.practice import check_key, serial_of
from ringwright.db import table_of
from ringwright.ledger.canonical import digest
from ringwright.ledger.projecting import bulk_insert
from ringwright.ledger.tables import BookingKey, Event
from ringwright.ledger.transaction import Draft, Tx
from ringwright.parts.knowledge import in_effect
from ringwright.parts.rules import apply
from ringwright.parts.state import Part
from ringwright.routecards.card import FindCard
from ringwright.routecards.queries import Revision, card_finder, in_force, read_revisions

COLUMNS = (
    "at",
    "serial",
    "product",
    "act",
    "step",
    "outcome",
    "defect",
    "characteristic",
    "value",
    "unit",
    "lot",
    "station",
    "by",
    "reason",
    "key",
    "gauge",
)
OPTIONAL = frozenset({"reason", "key", "gauge"})
FAR_AHEAD_SEQ = 2**52
"""Trial entries are numbered from here until the ledger numbers them, so they sort last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One checked row with its line in the file and what identifies it."""

    number: int
    booking: Booking
    key: str
    digest: str


def _silent(_text: str) -> None:
    """Nobody waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadHistory:
    """Append the rows of a history file."""

    operation: ClassVar[str] = "load history"
    rows: Iterable[tuple[int, Mapping[str, str]]]
    """(line number, column to text)."""
    zone: str | None = None
    """Zone of times without an offset; None: such times are refused."""
    key: str | None = None
    say: Callable[[str], None] = _silent
    """Told how far a long load has come."""
    own_keys: str | None = None
    """Leave out parts that hold an event whose key begins otherwise (the demo running on)."""

    def body(self) -> Any:
        """Unused: every row has a key of its own."""

    def subject(self) -> str:
        """Nothing single."""
        return "history"


def read_csv(text: str) -> Iterator[tuple[int, Mapping[str, str]]]:
    """(line number, row) of a history CSV; raises Refused when the header is not one."""
    # A field that is far too long is a bad row with its line, not the end of the reading.
    csv.field_size_limit(2**31 - 1)
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    try:
        header = next(reader, None)
        _check_header(header)
        assert header is not None
        names = [name.strip() for name in header]
        start = reader.line_num + 1
        for cells in reader:
            number, start = start, reader.line_num + 1
            if not cells:
                continue
            if len(cells) > len(names):
                yield number, {"": "too many fields"}
            else:
                yield number, dict(zip(names, cells, strict=False))
    except csv.Error as trouble:
        raise Refused(f"line {reader.line_num}: not readable as CSV: {trouble}") from None


def _check_header(header: list[str] | None) -> None:
    names = [name.strip() for name in header or ()]
    missing = [name for name in COLUMNS if name not in names and name not in OPTIONAL]
    unknown = [name for name in names if name not in COLUMNS]
    if not names or missing == [name for name in COLUMNS if name not in OPTIONAL]:
        raise Refused(f"line 1: a header row is required: {','.join(COLUMNS)}")
    if missing:
        raise Refused(f"line 1: the header lacks {', '.join(missing)}")
    if unknown or len(set(names)) != len(names):
        raise Refused(f"line 1: the header has unknown or double columns: {', '.join(unknown)}")


def check_row(row: Mapping[str, str], zone: str | None) -> Booking:
    """A row as a booking; raises Refused."""
    if "" in row:
        raise Refused("the row has more fields than the header")
    for name, text in row.items():
        if len(text) > 10_000:
            raise Refused(f"{name} is longer than 10,000 characters")
    at = row.get("at", "").strip()
    if not at:
        raise Refused("at is missing")
    try:
        at_us = parse_instant(at, zone)
    except ValueError as trouble:
        raise Refused(f"at {at[:40]!r}: {trouble}") from None
    given: dict[str, Any] = {name: row.get(name, "") for name in TEXTS}
    given["step"] = parse_step(row.get("step", ""))
    given["value"] = parse_value(row.get("value", ""))
    booking = make_booking(given, at_us)
    if booking.product is None:
        raise Refused("product is missing")
    return booking


@dataclass(slots=True)
class _Counts:
    added: int = 0
    repeated: int = 0
    already: int = 0
    skips: int = 0


def load_history(tx: Tx, command: LoadHistory) -> dict[str, Any]:
    """Append every row that is new; raises BadRows naming each bad line, storing nothing."""
    problems: list[tuple[int, str]] = []
    counts = _Counts()
    practice = tx.site.practice_of is not None
    lines = _check_lines(command, problems, counts, practice=practice)
    lines = _drop_known(tx, lines, problems, counts)
    command.say(f"{len(lines):,} new rows read; judging them ...")
    lines.sort(key=lambda line: (line.booking.at_us, line.number))
    if command.own_keys is not None:
        lines = _untouched(tx, lines, command.own_keys)
    histories = tx.histories("part", list({line.booking.serial for line in lines}))
    drafts = _judge(tx, lines, histories, problems, counts)
    if problems:
        raise BadRows(problems)
    command.say("Every row obeys; recording ...")
    known = {("part", serial): entries for serial, entries in histories.items()}
    first = tx.head_seq + 1
    tx.append_many(drafts, known)
    rows = [
        (tx.site.id, line.key, "book", line.digest, first + place, None)
        for place, line in enumerate(lines)
    ]
    bulk_insert(tx.connection, table_of(BookingKey), rows)
    counts.added = len(lines)
    return {
        "added": counts.added,
        "already_there": counts.already,
        "repeated_lines": counts.repeated,
        "skips": counts.skips,
    }


def _check_lines(
    command: LoadHistory,
    problems: list[tuple[int, str]],
    counts: _Counts,
    *,
    practice: bool,
) -> list[Line]:
    lines: dict[str, Line] = {}
    for number, row in command.rows:
        try:
            line = _line(number, check_row(row, command.zone), practice=practice)
        except Refused as refusal:
            problems.append((number, refusal.message))
            continue
        other = lines.setdefault(line.key, line)
        if other is line:
            continue
        if other.digest == line.digest:
            counts.repeated += 1
        else:
            problems.append(
                (number, f"key {line.key!r} stands on line {other.number} with other content")
            )
    return list(lines.values())


def _line(number: int, booking: Booking, *, practice: bool) -> Line:
    """The row with what identifies it; raises Refused for practice at a real site."""
    check_key(booking.key or "", practice=practice)
    serial = serial_of(booking.serial, practice=practice)
    if serial != booking.serial:
        booking = replace(booking, serial=serial)
    asked = digest("book", booking.body())
    key = booking.key or f"row:{asked}"
    return Line(number=number, booking=booking, key=key, digest=asked)


def _drop_known(
    tx: Tx, lines: list[Line], problems: list[tuple[int, str]], counts: _Counts
) -> list[Line]:
    """Lines whose key is not in the record yet."""
    known: dict[str, str] = {}
    for start in range(0, len(lines), 500):
        keys = [line.key for line in lines[start : start + 500]]
        query = select(BookingKey.key, BookingKey.digest).where(
            BookingKey.site_id == tx.site.id, BookingKey.key.in_(keys)
        )
        known.update((row.key, row.digest) for row in tx.connection.execute(query))
    fresh = []
    for line in lines:
        if line.key not in known:
            fresh.append(line)
        elif known[line.key] == line.digest:
            counts.already += 1
        else:
            problems.append((line.number, f"key {line.key!r} was used for another booking"))
    return fresh


def _untouched(tx: Tx, lines: list[Line], own_keys: str) -> list[Line]:
    """Lines of parts on which nobody else has booked."""
    serials = list({line.booking.serial for line in lines})
    touched: set[str] = set()
    for start in range(0, len(serials), 500):
        query = select(Event.subject).where(
            Event.site_id == tx.site.id,
            Event.subject_kind == "part",
            Event.subject.in_(serials[start : start + 500]),
            or_(Event.key.is_(None), Event.key.not_like(f"{own_keys}%")),
        )
        touched.update(tx.connection.execute(query).scalars())
    return [line for line in lines if line.booking.serial not in touched]


def _judge(
    tx: Tx,
    lines: list[Line],
    histories: dict[str, list[Entry]],
    problems: list[tuple[int, str]],
    counts: _Counts,
) -> list[Draft]:
    """Each line's draft, judged within its part's whole history."""
    find = card_finder(tx.connection, tx.site.id)
    products = _Products(tx)
    drafts: list[Draft] = []
    by_part: dict[str, dict[int, Line]] = {}
    trials: dict[str, list[Entry]] = {}
    for place, line in enumerate(lines):
        booking = line.booking
        try:
            draft = _draft(products, line)
        except Refused as refusal:
            problems.append((line.number, refusal.message))
            continue
        drafts.append(draft)
        assert booking.at_us is not None
        trial = Entry(
            FAR_AHEAD_SEQ + place,
            draft.fact.kind,
            booking.at_us,
            booking.at_us,
            draft.actor,
            draft.station,
            None,
            draft.fact.payload(),
        )
        trials.setdefault(booking.serial, []).append(trial)
        by_part.setdefault(booking.serial, {})[trial.seq] = line
    for serial, added in trials.items():
        judge = _PartJudge(serial, by_part[serial], find, problems)
        counts.skips += judge.run([*histories.get(serial, []), *added])
    return drafts


class _Products:
    """Route revisions by product, each read once."""

    def __init__(self, tx: Tx) -> None:
        self.tx = tx
        self.known: dict[str, list[Revision]] = {}

    def revision(self, product: str, at_us: int) -> str:
        """The revision in force at an instant; raises Refused for an unknown product."""
        if product not in self.known:
            self.known[product] = read_revisions(self.tx.connection, self.tx.site.id, product)
        if not self.known[product]:
            raise Refused(f"no product {product!r} at this site; load its route card first")
        return in_force(self.known[product], at_us).revision


def _draft(products: _Products, line: Line) -> Draft:
    booking = line.booking
    assert booking.at_us is not None
    assert booking.product is not None
    revision = products.revision(booking.product, booking.at_us)
    fact = fact_of(booking, revision)
    return Draft(
        fact=fact,
        subject=booking.serial,
        at_us=booking.at_us,
        known_us=booking.at_us,
        key=line.key,
        actor=booking.by or "record",
        station=booking.station or "",
    )


class _PartJudge:
    """Folds one part's old and new facts together and names the lines that break a rule."""

    def __init__(
        self,
        serial: str,
        lines: dict[int, Line],
        find: FindCard,
        problems: list[tuple[int, str]],
    ) -> None:
        self.part = Part(serial)
        self.lines = lines
        self.find = find
        self.problems = problems
        self.blamed: set[int] = set()

    def run(self, entries: list[Entry]) -> int:
        """Judge all facts in the order they happened; the number of steps the new ones skip."""
        skips, latest = 0, None
        for entry in in_effect(entries):
            line = self.lines.get(entry.seq)
            latest = line or latest
            try:
                self._check_product(line)
                apply(self.part, entry, self.find)
            except RingwrightError as refusal:
                self._blame(line, latest, refusal)
                continue
            if line is not None and entry.kind == "begin":
                skips += self.part.visits[-1].skipped
        return skips

    def _check_product(self, line: Line | None) -> None:
        if line is None or self.part.card is None or line.booking.act == "create":
            return
        if line.booking.product != self.part.card.product:
            raise Refused(
                f"{self.part.serial} is a {self.part.card.product}, "
                f"not a {line.booking.product}"
            )

    def _blame(self, line: Line | None, latest: Line | None, refusal: RingwrightError) -> None:
        if line is not None:
            self.problems.append((line.number, refusal.message))
        elif latest is not None and latest.number not in self.blamed:
            self.blamed.add(latest.number)
            self.problems.append(
                (latest.number, f"it contradicts what is recorded already: {refusal.message}")
            )
