"""What the week's figures amount to, in words: the answer. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from ringwright.flow.model import Strip, WeekSheet
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words

LONGEST: Final = 90
"""Letters of an answer; clauses are left out from the right until it fits."""


class State(Enum):
    """Where one product stands against its promise."""

    UNPROMISED = "no target"
    UNKNOWN = "cannot say yet"
    OWED = "owed"
    AHEAD = "ahead"
    EVEN = "on pace"
    KEPT = "promise kept"
    BROKEN = "promise not kept"


@dataclass(frozen=True, kw_only=True)
class Position:
    """Output less pace, rounded as it is shown; `share` is its part of the target."""

    state: State
    parts: float
    share: float

    @property
    def needs_a_person(self) -> bool:
        """True from one whole part owed on."""
        return self.state in (State.OWED, State.BROKEN)


def position(strip: Strip, now_us: int) -> Position:
    """Where a product stands at the moment of the snapshot."""
    numbers = strip.numbers
    if numbers.target is None:
        return Position(state=State.UNPROMISED, parts=0.0, share=0.0)
    if now_us >= numbers.end_us:
        over = round(numbers.output - numbers.target, 1)
        state = State.KEPT if over >= 0 else State.BROKEN
        return Position(state=state, parts=over, share=over / (numbers.target or 1.0))
    promised = strip.promised_now
    # Before the first part is due or out, any word about pace would be read into nothing.
    if promised is None or (promised < 1.0 and numbers.output == 0):
        return Position(state=State.UNKNOWN, parts=0.0, share=0.0)
    parts = round(numbers.output - promised, 1)
    state = State.OWED if parts <= -1 else State.AHEAD if parts >= 1 else State.EVEN
    return Position(state=state, parts=parts, share=parts / (numbers.target or 1.0))


@dataclass(frozen=True)
class Piece:
    """A stretch of the answer; `needs` is what the proofing colour underlines."""

    text: str
    needs: bool = False


def answer(sheet: WeekSheet, words: Words, show: Figures) -> tuple[Piece, ...]:
    """The answer to "will we make this week's number?", worst product first.

    It says where the week stands against its promise now; what comes is for a forecast.
    """
    if not sheet.strips:
        return (Piece(words._("No product has a route card yet.")),)
    ranked = sorted(
        ((position(strip, sheet.now_us), strip) for strip in sheet.strips),
        key=lambda pair: (not pair[0].needs_a_person, pair[0].share),
    )
    clauses = [_clause(place, strip, words, show) for place, strip in ranked]
    if len(ranked) == 1:
        clauses += _so_far(*ranked[0], words, show)
    while len(clauses) > 1 and _letters(clauses) > LONGEST:
        clauses.pop()
    return _sentence(clauses)


def position_text(place: Position, strip: Strip, words: Words, show: Figures) -> str:
    """The words for a position: "5.0 owed", "3.4 ahead", "on pace"."""
    figure = show.decimal(abs(place.parts))
    match place.state:
        case State.UNPROMISED:
            return words._("%(output)s released", output=show.count(strip.numbers.output))
        case State.UNKNOWN:
            return words._("cannot say yet")
        case State.OWED:
            return words._("%(figure)s owed", figure=figure)
        case State.AHEAD:
            return words._("%(figure)s ahead", figure=figure)
        case State.EVEN:
            return words._("on pace")
        case State.KEPT:
            return words._("promise kept")
        case State.BROKEN:
            return words._("%(figure)s short", figure=show.count(abs(place.parts)))


_HOLE: Final = "\0"


def _clause(place: Position, strip: Strip, words: Words, show: Figures) -> tuple[Piece, ...]:
    name = strip.name
    match place.state:
        case State.UNPROMISED:
            frame = words._("%(name)s: %(state)s, no promise", name=name, state=_HOLE)
        case State.UNKNOWN:
            frame = words._("%(state)s for %(name)s", name=name, state=_HOLE)
        case State.EVEN:
            frame = words._("%(name)s %(state)s", name=name, state=_HOLE)
        case _:
            frame = words._("%(state)s on %(name)s", name=name, state=_HOLE)
    before, _, after = frame.partition(_HOLE)
    text = position_text(place, strip, words, show)
    pieces = (Piece(before), Piece(text, place.needs_a_person), Piece(after))
    return tuple(piece for piece in pieces if piece.text)


def _so_far(
    place: Position, strip: Strip, words: Words, show: Figures
) -> list[tuple[Piece, ...]]:
    """With one product alone there is room to say how many are out."""
    target = strip.numbers.target
    if target is None or place.state is State.UNKNOWN:
        return []
    out = words._(
        "%(output)s of %(target)s out",
        output=show.count(strip.numbers.output), target=show.count(target),
    )  # fmt: skip
    return [(Piece(out),)]


def _letters(clauses: Sequence[tuple[Piece, ...]]) -> int:
    return sum(len(piece.text) for piece in _sentence(clauses))


def _sentence(clauses: Sequence[tuple[Piece, ...]]) -> tuple[Piece, ...]:
    pieces: list[Piece] = []
    for clause in clauses:
        pieces += [Piece("; "), *clause] if pieces else [*clause]
    first = pieces[0]
    pieces[0] = Piece(first.text[:1].upper() + first.text[1:], first.needs)
    return (*pieces, Piece("."))
