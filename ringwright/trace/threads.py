"""The threads picture as geometry: rows left, places right, one thread a part. Pure.

Across, the web of threads is 100 wide whatever the screen; down, it is in CSS pixels: both
lists beside it have rows of one height.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

ROW_PX: Final = 48
MOST_THREADS: Final = 150
"""Above this threads are bundled: one for all parts of a row that are at one place."""
ONE_LINE: Final = 12
IN_LINE: Final = 20
MOST_MARKS: Final = 3 * IN_LINE
"""Marks in one row; above this a mark stands for ten parts, or a hundred."""
PITCH: Final = 12.0
LINE: Final = 30.0
SMALL: Final = 0.46
SPREAD_PX: Final = 30
PITCH_PX: Final = 4.0
BUNDLE_PX: Final = (1.2, 14.0)


@dataclass(frozen=True, slots=True)
class Strand:
    """One part: the row it comes from, the place it is at, whether that needs a person."""

    row: int
    place: int
    needs: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """A line from a row to a place; `parts` is more than one in a bundle."""

    y1: float
    y2: float
    parts: int
    width: float
    needs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Web:
    """All threads of a picture."""

    threads: tuple[Thread, ...]
    height: int
    bundled: bool


def draw_web(strands: Sequence[Strand], rows: int, places: int) -> Web:
    """The threads, those that need a person drawn last, on top of the others."""
    bundled = len(strands) > MOST_THREADS
    threads = _bundles(strands) if bundled else _single(strands)
    return Web(
        threads=tuple(sorted(threads, key=lambda thread: thread.needs)),
        height=max(1, rows, places) * ROW_PX,
        bundled=bundled,
    )


def _middle(row: int) -> float:
    return row * ROW_PX + ROW_PX / 2


def _single(strands: Sequence[Strand]) -> list[Thread]:
    """One thread a part; at each end they keep the order of the other end, so few cross."""
    starts = _ends([(s.row, s.place) for s in strands])
    ends = _ends([(s.place, s.row) for s in strands])
    return [
        Thread(y1=y1, y2=y2, parts=1, width=2.2 if strand.needs else 1.2, needs=strand.needs)
        for strand, y1, y2 in zip(strands, starts, ends, strict=True)
    ]


def _ends(keys: Sequence[tuple[int, int]]) -> list[float]:
    """Where each thread ends, given (the row it ends at, the row of its other end)."""
    sizes = Counter(here for here, _ in keys)
    taken: Counter[int] = Counter()
    found = [0.0] * len(keys)
    for index in sorted(range(len(keys)), key=lambda i: (*keys[i], i)):
        here = keys[index][0]
        pitch = min(PITCH_PX, SPREAD_PX / sizes[here])
        found[index] = round(_middle(here) + (taken[here] - (sizes[here] - 1) / 2) * pitch, 2)
        taken[here] += 1
    return found


def _bundles(strands: Sequence[Strand]) -> list[Thread]:
    """One thread for each row and place, its width in proportion to the parts in it."""
    counts = Counter((s.row, s.place, s.needs) for s in strands)
    largest = max(counts.values())
    least, most = BUNDLE_PX
    keys = sorted(counts)
    starts = _ends([(row, place) for row, place, _ in keys])
    ends = _ends([(place, row) for row, place, _ in keys])
    return [
        Thread(
            y1=y1,
            y2=y2,
            parts=counts[key],
            width=round(least + (most - least) * (counts[key] - 1) / max(1, largest - 1), 2),
            needs=key[2],
        )
        for key, y1, y2 in zip(keys, starts, ends, strict=True)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One bar: where it stands and its shape, as the look gives each place one."""

    x: float
    y: float
    shape: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """A tie bar over the held bars of one line."""

    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The bars of one row, the held ones first; many stand smaller, in several lines.

    `width` and `height` are CSS pixels on the page, `across` and `down` the same in the
    coordinates of the bars.
    """

    marks: tuple[Mark, ...]
    ties: tuple[Tie, ...]
    width: float
    height: float
    across: float
    down: float


def parts_per_mark(largest: int) -> int:
    """How many parts a mark stands for, so that the largest row can be drawn: 1, 10, 100 …"""
    each = 1
    while largest > MOST_MARKS * each:
        each *= 10
    return each


def draw_marks(shapes: Sequence[tuple[str, bool]], each: int) -> Marks:
    """The bars of a row from (shape, held) of its parts; part of a mark is a mark."""
    counts = Counter(shapes)
    ordered = sorted(counts, key=lambda key: (not key[1], key[0]))
    drawn = [key for key in ordered for _ in range(-(-counts[key] // each))]
    small = len(drawn) > ONE_LINE
    line = IN_LINE if small else max(1, len(drawn))
    lines = -(-len(drawn) // line) if drawn else 1
    across, down = PITCH * (min(line, max(1, len(drawn))) - 1) + 18.0, LINE * lines
    scale = SMALL if small else 1.0
    return Marks(
        marks=tuple(
            Mark(x=4 + PITCH * (n % line), y=3 + LINE * (n // line), shape=shape)
            for n, (shape, _) in enumerate(drawn)
        ),
        ties=_ties(sum(held for _, held in drawn), line),
        width=round(across * scale, 1),
        height=round(down * scale, 1),
        across=across,
        down=down,
    )


def _ties(held: int, line: int) -> tuple[Tie, ...]:
    full, rest = divmod(held, line)
    sizes = [line] * full + ([rest] if rest else [])
    return tuple(
        Tie(x=4 + PITCH * (size - 1) + 11, y=15 + LINE * n) for n, size in enumerate(sizes)
    )
