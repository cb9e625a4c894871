"""What the week's figures amount to, in words: the answer, and what is in the way. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from ringwright.flow.model import StepStanding, Strip, WeekSheet
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words

LONGEST: Final = 90
"""Letters of an answer; clauses are left out from the right until it fits."""
MOST_TROUBLES: Final = 5


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


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """One thing in the way: its cause, why, how many parts, and where to act."""

    rank: int
    product: str
    step: int
    cause: str
    why: str
    figure: str
    place: str


@dataclass(frozen=True, kw_only=True)
class _Finding:
    strip: Strip
    standing: StepStanding
    held: bool
    parts: int

    @property
    def share(self) -> float:
        """Of the week's promise; a product without one ranks last."""
        return self.parts / self.strip.numbers.target if self.strip.numbers.target else 0.0


def in_the_way(sheet: WeekSheet, words: Words, show: Figures) -> tuple[Trouble, ...]:
    """At most five things in the way, ranked by parts as a share of the week's promise.

    A part may be held and over plan at once: the two are told apart and never added.
    """
    if sheet.now_us >= sheet.end_us:
        return ()
    found = [
        _Finding(strip=strip, standing=row, held=held, parts=parts)
        for strip in sheet.strips
        for row in strip.standing
        for held, parts in ((True, row.held), (False, row.over_plan))
        if parts
    ]
    found.sort(key=lambda f: (-f.share, -f.parts, f.standing.number, f.held))
    return tuple(
        _trouble(rank, finding, words, show)
        for rank, finding in enumerate(found[:MOST_TROUBLES], start=1)
    )


def _trouble(rank: int, finding: _Finding, words: Words, show: Figures) -> Trouble:
    row = finding.standing
    step = f"{row.number} {row.name}"
    parts = show.count(finding.parts)
    if finding.held:
        cause = words._("%(step)s: %(parts)s held", step=step, parts=parts)
    else:
        cause = words._("%(step)s: %(parts)s over plan", step=step, parts=parts)
    return Trouble(
        rank=rank,
        product=finding.strip.numbers.product,
        step=row.number,
        cause=cause,
        why=_why(row, words, show),
        figure=_figure(finding, words, show),
        place=words._("Steps, %(number)s", number=row.number),
    )


def _why(row: StepStanding, words: Words, show: Figures) -> str:
    if row.oldest_serial is None or row.oldest_h is None:
        return ""
    return words._(
        "Longest there: %(serial)s, %(hours)s.",
        serial=row.oldest_serial,
        hours=show.hours(row.oldest_h),
    )


def _figure(finding: _Finding, words: Words, show: Figures) -> str:
    target = finding.strip.numbers.target
    if target is None:
        return finding.strip.name
    return words._(
        "%(name)s, %(target)s promised", name=finding.strip.name, target=show.count(target)
    )
