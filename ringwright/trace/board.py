"""Traceability as it is drawn: every row, mark and thread worked out before the template."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import quote

from ringwright.flow.loads import load_code
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import Book, Sheet
from ringwright.kit.words import Words
from ringwright.trace.answer import HOW_WORDS, Piece, answer, parts_text, suspect_name
from ringwright.trace.asks import Ask, asks_of
from ringwright.trace.question import TIMELESS
from ringwright.trace.rows import Occasion, Place, occasions, period_of, places, shape_of
from ringwright.trace.sheets import (
    Tell,
    cut,
    cut_off,
    occasions_sheet,
    parts_sheet,
    places_sheet,
    touched_book,
)
from ringwright.trace.threads import (
    Marks,
    Strand,
    Web,
    draw_marks,
    draw_web,
    parts_per_mark,
)
from ringwright.trace.touched import HERE, SCRAPPED, SENT, USED, Touched

TERMS: Final = ("touched", "load", "hold", "containment", "notice", "entry", "head")
"""The words explained under the page."""

HOLE: Final = "_serial_"
"""Stands for the serial in the pattern of the parts' addresses."""

Address = Callable[..., str]
"""Route and its values to an address, as templates write it."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of either side: two lines of words, its marks, where it leads."""

    label: str
    under: str
    href: str
    marks: Marks
    balloon: int = 0
    quiet: bool = False
    """True where the balloon asks for nothing."""
    needs: bool = False


@dataclass(frozen=True, kw_only=True)
class Board:
    """The whole page, from one snapshot."""

    touched: Touched
    name: str
    question: str
    answer: tuple[Piece, ...]
    left_title: str
    right_title: str
    rows: tuple[Row, ...]
    places: tuple[Row, ...]
    web: Web
    each: int
    several: int
    """Parts that were touched more than once."""
    asks: tuple[Ask, ...]
    described: str
    parts: Sheet
    figures: tuple[Sheet, ...]
    foot: str
    ptag: str
    terms: tuple[str, ...] = TERMS

    @property
    def loose(self) -> bool:
        """True while containing would do something."""
        untold = any(not p.standing.contained for p in self.touched.untold)
        return self.touched.held < self.touched.count(HERE) or untold


class Drawing:
    """One answer being drawn for one reader."""

    def __init__(self, touched: Touched, words: Words, show: Figures, address: Address) -> None:
        self.touched = touched
        self.words = words
        self.show = show
        self.address = address
        self.tell = Tell(words, show, touched.zone, touched.now_us)
        self.left = occasions(touched)
        self.right = places(touched)
        sizes = [len(row.parts) for row in self.left] + [len(row.parts) for row in self.right]
        largest = max(sizes, default=0)
        self.each = parts_per_mark(largest)
        self.pattern = address("trace.part", serial=HOLE)
        self.asks = asks_of(touched, words, show)

    def board(self) -> Board:
        """Everything the page draws."""
        touched, _ = self.touched, self.words._
        name = suspect_name(touched.question, touched.zone, self.words, self.show)
        rows, spots = self._rows(), self._places()
        here = self.show.moment(touched.now_us, touched.zone, touched.now_us)
        said = answer(touched, self.words, self.show)
        return Board(
            touched=touched,
            name=name,
            question=_question(touched, self.words),
            answer=said,
            left_title=_("%(suspect)s, newest on top", suspect=name),
            right_title=_("Where they stand at %(moment)s", moment=here),
            rows=rows,
            places=spots,
            web=draw_web(self._strands(), len(rows), len(spots)),
            each=self.each,
            several=sum(len(part.touches) > 1 for part in touched.parts),
            asks=self.asks,
            described="".join(piece.text for piece in said),
            parts=cut(parts_sheet(touched, self.tell, self._part_link)),
            figures=self._figures(rows, spots),
            foot=cut_off(self.tell, touched.head_seq, touched.head_hash, touched.as_of_us),
            ptag=ptag_of(touched.head_seq, touched.now_us),
        )

    def book(self) -> Book:
        """The same figures as a file holds them: every part, no links."""
        board = self.board()
        whole = parts_sheet(self.touched, self.tell)
        said = (board.question, board.described)
        return touched_book(self.touched, said, (whole, *board.figures), self.tell)

    def _part_link(self, serial: str) -> str:
        """A part's address, the pattern of them worked out once for the whole list."""
        return self.pattern.replace(HOLE, quote(serial))

    def _figures(self, rows: tuple[Row, ...], spots: tuple[Row, ...]) -> tuple[Sheet, ...]:
        names = zip((row.label for row in rows), self.left, strict=True)
        where = zip((row.label for row in spots), self.right, strict=True)
        return (
            occasions_sheet(tuple(names), self.tell),
            places_sheet(tuple(where), self.tell),
        )

    def _strands(self) -> list[Strand]:
        spot = {part.serial: i for i, row in enumerate(self.right) for part in row.parts}
        untold = {part.serial for part in self.touched.untold}
        return [
            Strand(row=i, place=spot[part.serial], needs=part.serial in untold)
            for i, row in enumerate(self.left)
            for part in row.parts
        ]

    def _rows(self) -> tuple[Row, ...]:
        return tuple(
            Row(
                label=self._when(row),
                under=self._how(row),
                href=self._run_link(row),
                marks=draw_marks([shape_of(p) for p in row.parts], self.each),
            )
            for row in self.left
        )

    def _when(self, row: Occasion) -> str:
        show, zone, _ = self.show, self.touched.zone, self.words._
        match row.span:
            case "load":
                return f"{show.day(row.at_us, zone)} {show.clock(row.at_us, zone)}"
            case "day":
                return show.day(row.at_us, zone)
            case "week":
                return _("Week of %(day)s", day=show.day(row.at_us, zone))
            case "month":
                return _("Month of %(day)s", day=show.day(row.at_us, zone))
            case _:
                return _("Year of %(day)s", day=show.date(row.at_us, zone))

    def _how(self, row: Occasion) -> str:
        parts = parts_text(self.touched, len(row.parts), self.words, self.show)
        if row.load is not None:
            where = row.load.station if self.touched.question.kind != "station" else ""
            step = self.words._("step %(step)s", step=row.load.step)
            return ", ".join(text for text in (where, step, parts) if text)
        how = ", ".join(self.words._(HOW_WORDS[word]) for word in row.how)
        return f"{parts}, {how}"

    def _run_link(self, row: Occasion) -> str:
        if row.load is None:
            return self._window_link(row)
        if self.touched.question.kind == "run":
            return ""
        code = load_code(row.load.station, row.load.begin_us, self.touched.zone)
        return self.address("trace.touched", run=code)

    def _window_link(self, row: Occasion) -> str:
        """The same question of the day, week or month of the row alone."""
        question = self.touched.question
        if question.kind in TIMELESS or len(self.left) < 2:
            return ""
        start_us, end_us = period_of(row, self.touched.zone)
        window = replace(
            question,
            from_us=max(start_us, question.start_us),
            to_us=min(end_us, question.end_us),
        )
        return self.address("trace.touched", **window.address(self.touched.zone))

    def _places(self) -> tuple[Row, ...]:
        ranks = {ask.kind: ask.rank for ask in self.asks}
        quiet = {ask.kind for ask in self.asks if not ask.open}
        found, used = [], set()
        for place in self.right:
            needs = place.fate == HERE and place.held < len(place.parts)
            kind = place.fate if place.fate != HERE or needs or not self._loose_here() else ""
            first = kind in ranks and kind not in used
            used.add(kind)
            found.append(
                Row(
                    label=self._place_name(place),
                    under=self._place_told(place),
                    href="",
                    marks=draw_marks([shape_of(p) for p in place.parts], self.each),
                    balloon=ranks[kind] if first else 0,
                    quiet=kind in quiet,
                    needs=needs,
                )
            )
        return tuple(found)

    def _loose_here(self) -> bool:
        return self.touched.held < self.touched.count(HERE)

    def _place_name(self, place: Place) -> str:
        _ = self.words._
        step = f"{place.number} {place.step.name}" if place.step else str(place.number or "")
        number = self.show.count(place.number) if place.number else ""
        if place.fate == SENT:
            return _("Sent")
        if place.fate == USED:
            return _("Went into other parts")
        if place.fate == SCRAPPED:
            return _("Scrapped at %(step)s", step=number) if number else _("Scrapped")
        if place.number is None:
            return _("Released, in stock")
        several = len({p.standing.product for p in self.touched.parts}) > 1
        return f"{step}, {place.product}" if several else step

    def _place_told(self, place: Place) -> str:
        _, n = self.words._, len(place.parts)
        count = self.show.count(n)
        if place.fate == SENT:
            return _("%(count)s, %(told)s", count=count, told=self._notices(place))
        if place.fate == SCRAPPED:
            return _("%(count)s, nothing to do", count=count)
        if place.held == n:
            return _("%(count)s, held", count=count)
        if place.held:
            return _("%(count)s, %(held)s held", count=count, held=self.show.count(place.held))
        return _("%(count)s, not held", count=count)

    def _notices(self, place: Place) -> str:
        _ = self.words._
        untold = [p for p in place.parts if not p.standing.told]
        if not untold:
            return _("notice sent")
        if any(p.standing.open_notices for p in untold):
            return _("notice open")
        if len(untold) < len(place.parts):
            return _("%(count)s without a notice", count=self.show.count(len(untold)))
        return _("no notice yet")


def _question(touched: Touched, words: Words) -> str:
    match touched.question.kind:
        case "lot":
            return words._("What was made from this lot, and where is it now?")
        case "run":
            return words._("What was in this run, and where is it now?")
        case "station":
            return words._("What did this station touch, and where is it now?")
        case "gauge":
            return words._("What was read with this gauge, and where is it now?")
        case "person":
            return words._("What did this person work on, and where is it now?")
        case "step":
            return words._("What went through this step, and where is it now?")
        case "defect":
            return words._("Where was this defect found, and where is it now?")
        case _:
            return words._("What was made of this part, and where is it now?")


def ptag_of(head_seq: int, now_us: int) -> str:
    """What a panel shows: the newest entry, and the minute it was drawn in."""
    return f"{head_seq}-{now_us // 60_000_000}"
