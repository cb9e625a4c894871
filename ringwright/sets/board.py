"""The Blade sets page as it is drawn: every figure and coordinate. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from ringwright.balance.vectors import Measured
from ringwright.flow.answer import Piece
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.words import Words
from ringwright.sets.answers import Option
from ringwright.sets.figures import Manner, plus_minus
from ringwright.sets.model import SetsSheet
from ringwright.sets.ring import (
    Hub,
    HubDrawing,
    Pair,
    RingDrawing,
    Seat,
    draw_hub,
    draw_pairs,
    draw_ring,
)
from ringwright.sets.telling import Texts, answer, texts_of

TERMS: Final = (
    "set", "residual unbalance", "couple unbalance", "share", "entry", "head",
)  # fmt: skip
"""The words explained under the page."""
MOST_PAIRS: Final = 12
"""Pairs that stand beside the ring; the table under it has all."""
ICON_ROOM: Final = 26.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One answer beside the others."""

    option: Option
    hub: HubDrawing
    chosen: bool
    keeps: bool
    """False where it breaks a rule that was asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure of every answer; the best is bold."""

    name: str
    unit: str
    texts: tuple[str, ...]
    values: tuple[float | str | None, ...]
    best: tuple[bool, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One figure before and after exchanges by hand."""

    name: str
    unit: str
    before: str
    after: str
    worse: bool
    better: bool


@dataclass(frozen=True, kw_only=True)
class Board:
    """The whole page."""

    sheet: SetsSheet
    answer: tuple[Piece, ...]
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    seats: tuple[Seat, ...]
    pairs: tuple[Pair, ...]
    ring: RingDrawing | None
    changes: tuple[Change, ...]
    places: int
    """Decimals of moments."""
    u95_text: str
    share_text: str
    noise: bool
    """True where a further search would only fit what nobody can measure."""
    texts: Texts
    terms: tuple[str, ...] = TERMS

    @property
    def broken(self) -> tuple[str, ...]:
        """Rules that the drawn answer does not keep."""
        return self.sheet.shown.broken if self.sheet.shown else ()

    @property
    def any_broken(self) -> bool:
        """True where one of the answers breaks a rule."""
        return any(not column.keeps for column in self.columns)

    @property
    def odd(self) -> bool:
        """True for a ring that has no opposite slots."""
        return len(self.seats) % 2 == 1

    @property
    def shown_pairs(self) -> tuple[Pair, ...]:
        """The pairs beside the ring."""
        return self.pairs[:MOST_PAIRS]


def make_board(sheet: SetsSheet, words: Words, show: Figures) -> Board:
    """Everything that Blade sets draws."""
    shown = sheet.shown
    seats = seats_of(sheet, words)
    options = sheet.answers.options
    u95 = sheet.u95_g_mm
    share = sheet.rotor.share_g_mm
    return Board(
        sheet=sheet,
        answer=answer(sheet, words, show),
        columns=tuple(_column(sheet, option) for option in options),
        rows=compare(sheet, [o.measured for o in options], words, show),
        seats=seats,
        pairs=draw_pairs(seats),
        ring=draw_ring(seats, _hub(sheet, shown), clockwise=sheet.rotor.clockwise)
        if shown
        else None,
        changes=_changes(sheet, words, show),
        places=sheet.places,
        u95_text=plus_minus(u95, show),
        share_text="" if share is None else words._("share %(g)s", g=show.decimal(share, 0)),
        noise=sheet.noise,
        texts=texts_of(sheet, words, show),
    )


def _hub(sheet: SetsSheet, option: Option | None) -> Hub:
    return Hub(
        residual=None if option is None else option.measured.residual,
        u95_g_mm=sheet.u95_g_mm,
        share_g_mm=sheet.rotor.share_g_mm,
    )


def _column(sheet: SetsSheet, option: Option) -> Column:
    largest = max(o.measured.residual_g_mm for o in sheet.answers.options)
    turn = 1 if sheet.rotor.clockwise else -1
    drawn = draw_hub(_hub(sheet, option), turn, ICON_ROOM, beside_g_mm=largest)
    chosen = sheet.chosen is not None and option.letter == sheet.chosen.letter
    return Column(option=option, hub=drawn, chosen=chosen, keeps=not option.broken)


def seats_of(sheet: SetsSheet, words: Words) -> tuple[Seat, ...]:
    """The slots of the answer that is drawn, with what the picture says of each."""
    shown, question = sheet.shown, sheet.question
    if shown is None or question is None:
        return ()
    moved = sheet.exchanged.slots if sheet.exchanged else frozenset()
    bare = []
    for slot, place in enumerate(shown.order, start=1):
        blade = question.pool.blades[place]
        bare.append(
            Seat(
                slot=slot,
                serial=blade.serial,
                moment_g_mm=blade.moment_g_mm,
                frequency_hz=blade.frequency_hz,
                locked=slot in question.limits.locks,
                mark="changed" if slot in moved else "",
                note=words._("exchanged") if slot in moved else "",
            )
        )
    return bare_and_worst(tuple(bare))


def bare_and_worst(seats: tuple[Seat, ...]) -> tuple[Seat, ...]:
    """The slots with the pair of the largest difference marked."""
    pairs = draw_pairs(seats)
    if not pairs or not pairs[0].difference_g_mm:
        return seats
    worst = {pairs[0].first.seat.slot, pairs[0].second.seat.slot}
    return tuple(
        _marked(seat, "worst") if seat.slot in worst and not seat.mark else seat
        for seat in seats
    )


def _marked(seat: Seat, mark: str) -> Seat:
    return Seat(
        slot=seat.slot,
        serial=seat.serial,
        moment_g_mm=seat.moment_g_mm,
        frequency_hz=seat.frequency_hz,
        locked=seat.locked,
        mark=mark,
        note=seat.note,
    )


_Value = Callable[[Measured], float | None]


def compare(
    sheet: SetsSheet, measured: list[Measured], words: Words, show: Figures
) -> tuple[Row, ...]:
    """The figures of answers side by side, each with its unit."""
    if not measured:
        return ()
    _, u95 = words._, sheet.u95_g_mm
    g_mm = "g_mm"

    manner = Manner(words, show, sheet.places, u95)
    uncertain = plus_minus(u95, show) or _("not known")
    figures: list[tuple[str, str, _Value, Callable[[float], str]]] = [
        (_("Residual"), g_mm, lambda m: m.residual_g_mm, manner.residual),
        (_("Opposite"), g_mm, lambda m: m.opposite_max_g_mm, manner.moment),
        (_("Neighbour"), g_mm, lambda m: m.neighbour_max_g_mm, manner.moment),
        (_("Couple"), "g_mm2", lambda m: m.couple_g_mm2, lambda v: show.decimal(v, 0)),
        (_("Spread"), "Hz", lambda m: m.frequency_spread_hz, lambda v: show.decimal(v, 2)),
    ]
    enough = {value: 0.0 for _name, _unit, value, _text in figures}
    if sheet.doubt is not None:
        # Below a quarter of its uncertainty no residual is better than another.
        enough[figures[0][2]] = sheet.doubt.stop_at_g_mm
    rows = [
        _row(name, unit, (value, text, enough[value]), measured)
        for name, unit, value, text in figures
    ]
    told = [row for row in rows if any(value is not None for value in row.values)]
    doubt = Row(
        name=_("Its 95 %%"),
        unit=g_mm,
        texts=(uncertain,) * len(measured),
        values=(u95,) * len(measured),
        best=(False,) * len(measured),
    )
    return (told[0], doubt, *told[1:], *_alternates(measured, words))


def _row(
    name: str,
    unit: str,
    manner: tuple[_Value, Callable[[float], str], float],
    of: list[Measured],
) -> Row:
    value_of, text_of, enough = manner
    values = tuple(value_of(measured) for measured in of)
    texts = tuple(NOTHING if value is None else text_of(value) for value in values)
    # What is told alike is alike: a smaller figure that nobody can measure is no better.
    known = [
        (value, text) for value, text in zip(values, texts, strict=True) if value is not None
    ]
    least = min(known)[1] if known else ""
    best = [
        text == least or (value is not None and value <= enough)
        for value, text in zip(values, texts, strict=True)
    ]
    return Row(
        name=name,
        unit=unit,
        texts=texts,
        values=values,
        best=tuple(one and not all(best) for one in best),
    )


def _alternates(measured: list[Measured], words: Words) -> tuple[Row, ...]:
    found = [one.alternates for one in measured]
    if all(value is None for value in found):
        return ()
    texts = tuple(words._("yes") if value else words._("no") for value in found)
    alike = len(set(texts)) == 1
    return (
        Row(
            name=words._("Alternates"),
            unit="",
            texts=texts,
            values=texts,
            best=tuple(bool(value) and not alike for value in found),
        ),
    )


def _changes(sheet: SetsSheet, words: Words, show: Figures) -> tuple[Change, ...]:
    """What the exchanges by hand did."""
    if sheet.exchanged is None:
        return ()
    pair = [sheet.exchanged.before.measured, sheet.exchanged.after.measured]
    rows = compare(sheet, pair, words, show)
    return tuple(
        Change(
            name=row.name,
            unit=row.unit,
            before=row.texts[0],
            after=row.texts[1],
            worse=row.best[0],
            better=row.best[1],
        )
        for row in rows
        if row.texts[0] != row.texts[1]
    )
