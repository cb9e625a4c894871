"""The tables of Blade sets: those on the page, and the files made from them."""

from __future__ import annotations

import math
from collections.abc import Callable

from ringwright.balance.pool import Blade, Pool
from ringwright.flow.answer import Piece
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.sets.asked import FILTERS, RULES, Asked
from ringwright.sets.board import Board
from ringwright.sets.figures import moment_places
from ringwright.sets.model import SetsSheet, Source
from ringwright.sets.ring import PairEnd, Seat


class SetSheets:
    """The sheets of one answer in one language."""

    def __init__(self, board: Board, words: Words, show: Figures) -> None:
        self.board, self.words, self.show = board, words, show

    def all(self) -> tuple[Sheet, ...]:
        """Every sheet in the order of the page; none where there is no answer."""
        if self.board.ring is None:
            return ()
        return (self.slots(), self.pairs(), self.answers())

    def slots(self) -> Sheet:
        """Slot by slot: the blade, its moment, its differences."""
        _ = self.words._
        seats = self.board.seats
        known = [seat.moment_g_mm or 0.0 for seat in seats]
        mean = math.fsum(known) / len(known)
        columns = [
            Column(name=_("slot"), kind=WHOLE),
            Column(name=_("serial"), head=True),
            Column(name=_("moment"), kind=NUMBER, unit="g_mm"),
            Column(name=_("less mean"), kind=NUMBER, unit="g_mm"),
            Column(name=_("frequency"), kind=NUMBER, unit="Hz"),
            Column(name=_("to its opposite"), kind=NUMBER, unit="g_mm"),
            Column(name=_("to the next slot"), kind=NUMBER, unit="g_mm"),
            Column(name=_("said of it")),
        ]
        return Sheet(
            code="slots",
            title=_("Slot by slot, answer %(letter)s", letter=self._letter()),
            columns=tuple(columns),
            rows=tuple(self._slot(place, mean) for place in range(len(seats))),
        )

    def _letter(self) -> str:
        shown = self.board.sheet.shown
        return shown.letter if shown else ""

    def _slot(self, place: int, mean: float) -> tuple[Cell, ...]:
        seats = self.board.seats
        seat, slots = seats[place], len(seats)
        half = slots // 2
        opposite = None if slots % 2 else _gap(seat, seats[(place + half) % slots])
        moment = seat.moment_g_mm
        said = [self.words._("locked")] if seat.locked else []
        said += [seat.note] if seat.note else []
        return (
            Cell(self.show.count(seat.slot), seat.slot),
            Cell(seat.serial),
            self._moment(moment),
            self._signed(None if moment is None else moment - mean),
            Cell(self.show.decimal(seat.frequency_hz, 2), seat.frequency_hz),
            self._moment(opposite),
            self._moment(_gap(seat, seats[(place + 1) % slots])),
            Cell(", ".join(said)),
        )

    def pairs(self) -> Sheet:
        """Opposite pairs (neighbours round an odd ring), largest difference first."""
        _ = self.words._
        odd = self.board.odd
        ends = [
            Column(name=_("slot"), kind=WHOLE),
            Column(name=_("serial")),
            Column(name=_("less mean"), kind=NUMBER, unit="g_mm"),
        ]
        return Sheet(
            code="pairs",
            title=_("Neighbours by difference") if odd else _("Opposite pairs by difference"),
            columns=(
                Column(name=_("difference"), kind=NUMBER, unit="g_mm"),
                *ends,
                *(Column(name=c.name, kind=c.kind, unit=c.unit) for c in ends),
            ),
            rows=tuple(
                (
                    self._moment(pair.difference_g_mm),
                    *self._end(pair.first),
                    *self._end(pair.second),
                )
                for pair in self.board.pairs
            ),
        )

    def _end(self, end: PairEnd) -> tuple[Cell, ...]:
        return (
            Cell(self.show.count(end.seat.slot), end.seat.slot),
            Cell(end.seat.serial),
            self._signed(end.less_mean_g_mm),
        )

    def answers(self) -> Sheet:
        """The answers side by side."""
        _ = self.words._
        columns = [Column(name=_("figure"), head=True), Column(name=_("unit"))]
        columns += [
            Column(name=f"{c.option.letter}, {_(c.option.led)}", kind=NUMBER)
            for c in self.board.columns
        ]
        rows = [
            (
                Cell(row.name),
                Cell(self.show.unit(row.unit)),
                *(Cell(text, value) for text, value in zip(row.texts, row.values, strict=True)),
            )
            for row in self.board.rows
        ]
        return Sheet(
            code="answers",
            title=_("Answers side by side"),
            columns=tuple(columns),
            rows=tuple(rows),
        )

    def _moment(self, value: float | None) -> Cell:
        return Cell(self.show.decimal(value, self.board.places), value)

    def _signed(self, value: float | None) -> Cell:
        if value is None:
            return Cell(self.show.decimal(None))
        return Cell(self.show.signed(value, self.board.places), value)


def _gap(one: Seat, other: Seat) -> float | None:
    if one.moment_g_mm is None or other.moment_g_mm is None:
        return None
    return abs(one.moment_g_mm - other.moment_g_mm)


MOST_ROWS = 1000
"""Blades in a list; a longer one says how many there are."""


def stock_sheets(
    pool: Pool, source: Source, words: Words, show: Figures, link: Callable[[str], str]
) -> tuple[Sheet, Sheet]:
    """The blades that may enter a set, and those that may not with the reason of each."""
    _ = words._
    places = moment_places(blade.moment_g_mm for blade in pool.blades)
    free = Sheet(
        code="free",
        title=_("Blades that may enter a set"),
        columns=(
            Column(name=_("serial"), head=True),
            Column(name=_("moment"), kind=NUMBER, unit="g_mm"),
            Column(name=_("frequency"), kind=NUMBER, unit="Hz"),
            Column(name=_("mass"), kind=NUMBER, unit="g"),
            Column(name=_("tangential"), kind=NUMBER, unit="g_mm"),
            Column(name=_("axial"), kind=NUMBER, unit="g_mm2"),
        ),
        rows=tuple(_free(blade, places, show, link) for blade in pool.blades[:MOST_ROWS]),
        of=len(pool),
    )
    out = Sheet(
        code="left out",
        title=_("Blades that may not"),
        columns=(Column(name=_("serial"), head=True), Column(name=_("why"))),
        rows=tuple(
            (Cell(serial, link=link(serial)), Cell(why))
            for serial, why in source.excluded[:MOST_ROWS]
        ),
        of=len(source.excluded),
    )
    return free, out


def _free(
    blade: Blade, places: int, show: Figures, link: Callable[[str], str]
) -> tuple[Cell, ...]:
    return (
        Cell(blade.serial, link=link(blade.serial)),
        Cell(show.decimal(blade.moment_g_mm, places), blade.moment_g_mm),
        Cell(show.decimal(blade.frequency_hz, 2), blade.frequency_hz),
        Cell(show.decimal(blade.mass_g, 1), blade.mass_g),
        Cell(show.decimal(blade.tangential_g_mm, places), blade.tangential_g_mm),
        Cell(show.decimal(blade.axial_g_mm2, 0), blade.axial_g_mm2),
    )


def make_book(
    sheet: SetsSheet,
    answer: tuple[Piece, ...],
    sheets: tuple[Sheet, ...],
    asked: Asked,
    words: Words,
) -> Book:
    """The page as a file: what was asked, what came out, from which entry."""
    _ = words._
    show = Figures(words.tag)
    named = [(name, asked.text(name)) for name in ("product", "pool", "run", "slots", "sets")]
    named += [(name, asked.text(name)) for name in (*RULES, "alternate", "disc", *FILTERS)]
    named += [("effort", str(asked.effort)), ("seed", str(asked.seed))]
    for name in ("lock", "exclude", "exchange"):
        named.append((name, ", ".join(asked.texts(name))))
    return Book(
        page=_("blade sets"),
        question=_("Which finished blades make a set, and in which slots?"),
        answer="".join(piece.text for piece in answer),
        filters=tuple((_(name), value) for name, value in named if value),
        cut_off=cut_off(sheet.snapshot, words, show),
        zone=sheet.snapshot.zone,
        at_us=sheet.snapshot.now_us,
        sheets=sheets,
        reconciliation=(
            _(
                "%(all)s blades: %(free)s may enter, %(out)s may not, "
                "%(filtered)s filtered out",
                all=sheet.source.all,
                free=sheet.source.free - sheet.source.filtered,
                out=len(sheet.source.excluded),
                filtered=sheet.source.filtered,
            ),
        ),
    )
