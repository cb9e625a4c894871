"""The route line: up waits, down works. Marks in, coordinates out; nothing here knows HTML.

Across, a coordinate is a share of the line's length in per cent; down it is in pixels from the
top of the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.floor.marks import Bracket, Cell, Mark, Marks

BREAK: Final = 2.8
"""Times plan above which a bar is broken off."""
PITCH: Final = 0.42
"""The widest that a mark and its gap get, in per cent of the line."""
BAR: Final = 0.78
"""Share of the pitch that the bar itself takes."""
TIGHT: Final = 0.12
INSET: Final = 0.04
LETTER: Final = 0.5
"""A letter's width over the height of its line, on the wide side."""
FULL, BESIDE_CUT = 0.86, 0.56
"""Share of a step's stretch that marks may take: all of it, or beside a cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How large a picture is drawn [px]: desk or wall."""

    up: float
    """Height of plan above the line."""
    down: float
    """Depth of plan below it."""
    room: float
    """Above the tallest bar."""
    tip: float
    label: float
    """Height of a line of words under a load."""
    radius: float
    width: float
    """How wide the picture is likely to be; words are set by it."""

    @property
    def worded(self) -> bool:
        """True where brackets bear their words; a wall is read from too far."""
        return self.width < 1500

    def share(self, text: str) -> float:
        """How wide words are, in per cent of the picture."""
        return 100 * len(text) * self.label * LETTER / self.width

    @property
    def dot(self) -> float:
        """The radius of the sign for what goes first."""
        return round(self.tip * 0.7, 1)

    @property
    def drop(self) -> float:
        """From the middle of a balloon down to the foot of its number."""
        return round(self.radius * 0.46, 1)

    @property
    def base(self) -> float:
        """Where the line runs."""
        return round(self.room + BREAK * self.up)

    @property
    def floor(self) -> float:
        """Where the deepest bar ends."""
        return self.base + BREAK * self.down


DESK: Final = Manner(up=71, down=22, room=20, tip=5, label=17, radius=11, width=1240)
WALL: Final = Manner(up=116, down=38, room=44, tip=8, label=38, radius=24, width=1750)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch at one height, with its words: a tie, a bracket, a cut."""

    x1: float
    x2: float
    y: float
    bracket: Bracket | None = None
    text: str = ""

    @property
    def width(self) -> float:
        """How long it is."""
        return round(self.x2 - self.x1, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A sign on one mark."""

    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CellDrawing:
    """One step's stretch of the line."""

    step: int
    x: float
    width: float
    windows: tuple[Span, ...]
    loads: tuple[Span, ...]
    ties: tuple[Span, ...]
    cuts: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDrawing:
    """The whole picture; `waiting` and the like are paths over the width of 100."""

    manner: Manner
    height: float
    plan_y: float
    twice_y: float
    work_plan_y: float
    waiting: str
    working: str
    late: str
    reserved: str
    raised: tuple[Dot, ...]
    sought: tuple[Dot, ...]
    cells: tuple[CellDrawing, ...]
    every: int

    @property
    def plan_text_y(self) -> float:
        """The foot of the word beside the line of plan."""
        return round(self.plan_y + self.manner.label * 0.3, 1)

    @property
    def twice_text_y(self) -> float:
        """The foot of the word beside the line of twice the plan."""
        return round(self.twice_y + self.manner.label * 0.3, 1)


def draw_line(
    marks: Marks, cuts: Mapping[int, Sequence[str]], manner: Manner = DESK
) -> LineDrawing:
    """The picture of a product's floor; `cuts`: step to what is shut there."""
    width = 100 / max(1, len(marks.cells))
    pens = [
        _Pen(cell, place * width, width, tuple(cuts.get(cell.step, ())), manner)
        for place, cell in enumerate(marks.cells)
    ]
    loads = any(cell.loads for cell in marks.cells)
    return LineDrawing(
        manner=manner,
        height=round(
            manner.floor + 12 + (2 * manner.label + 8 if loads and manner.worded else 0), 1
        ),
        plan_y=manner.base - manner.up,
        twice_y=manner.base - 2 * manner.up,
        work_plan_y=manner.base + manner.down,
        waiting="".join(pen.outlines() for pen in pens),
        working="".join(pen.solids() for pen in pens),
        late="".join(pen.lates() for pen in pens),
        reserved="".join(pen.corners() for pen in pens),
        raised=tuple(dot for pen in pens for dot in pen.dots("raised")),
        sought=tuple(dot for pen in pens for dot in pen.dots("sought")),
        cells=tuple(pen.cell_drawing() for pen in pens),
        every=marks.every,
    )


def held_runs(marks: Sequence[Mark]) -> list[tuple[int, int]]:
    """From where to where neighbouring marks are held."""
    runs: list[tuple[int, int]] = []
    for place, mark in enumerate(marks):
        if not mark.held:
            continue
        if runs and runs[-1][1] == place - 1:
            runs[-1] = (runs[-1][0], place)
        else:
            runs.append((place, place))
    return runs


class _Pen:
    """Draws one step's stretch."""

    def __init__(
        self, cell: Cell, x: float, width: float, cuts: Sequence[str], manner: Manner
    ) -> None:
        self.cell, self.x, self.width, self.shut, self.m = cell, x, width, cuts, manner
        room = width * (BESIDE_CUT if cuts else FULL)
        widest = PITCH * (1.0 if manner.worded else 1.3)
        self.pitches = [
            min(widest, room / max(1, len(row))) for row in (cell.waiting, cell.working)
        ]

    def left(self, place: int, hangs: bool) -> float:
        """Where a mark begins."""
        return self.x + self.width * INSET + place * self.pitches[hangs]

    def bar(self, hangs: bool) -> float:
        """How wide a mark is; too many to leave gaps between stand shoulder to shoulder."""
        pitch = self.pitches[hangs]
        return pitch * (BAR if pitch > TIGHT else 1.0)

    def tip(self, mark: Mark, hangs: bool) -> float:
        """How far a mark reaches from the line [px]; something always shows."""
        plan = self.m.down if hangs else self.m.up
        return max(3.0, min(mark.ratio, BREAK) * plan)

    def _sides(self) -> Iterable[tuple[int, Mark, bool]]:
        for hangs, row in ((False, self.cell.waiting), (True, self.cell.working)):
            for place, mark in enumerate(row):
                yield place, mark, hangs

    def _body(self, mark: Mark, hangs: bool) -> float:
        """How far its ordinary part reaches: to plan where it is late."""
        plan = self.m.down if hangs else self.m.up
        reach = self.tip(mark, hangs)
        return min(reach, plan) if mark.late else reach

    def outlines(self) -> str:
        """Open bars: waiting."""
        return "".join(
            self._rect(place, 0, self._body(mark, False))
            for place, mark in enumerate(self.cell.waiting)
        )

    def solids(self) -> str:
        """Solid bars: in work."""
        return "".join(
            self._rect(place, 0, -self._body(mark, True))
            for place, mark in enumerate(self.cell.working)
        )

    def lates(self) -> str:
        """What is past plan, pointed; broken off where it is far past."""
        found = []
        for place, mark, hangs in self._sides():
            start, end = self._body(mark, hangs), self.tip(mark, hangs)
            if not mark.late:
                continue
            way = -1 if hangs else 1
            end = max(end, start + self.m.tip)
            if mark.ratio > BREAK:
                gap = end - 3 * self.m.tip
                found.append(self._rect(place, way * start, way * gap))
                start = gap + self.m.tip * 0.7
            found.append(self._point(place, way * start, way * end))
        return "".join(found)

    def _rect(self, place: int, low: float, high: float) -> str:
        hangs, base = high < 0, self.m.base
        x, bar = self.left(place, hangs), self.bar(hangs)
        return f"M{x:.2f} {base - low:.1f}V{base - high:.1f}H{x + bar:.2f}V{base - low:.1f}Z"

    def _point(self, place: int, low: float, high: float) -> str:
        hangs, base = high < 0, self.m.base
        x, bar = self.left(place, hangs), self.bar(hangs)
        neck = high + (self.m.tip if hangs else -self.m.tip)
        return (
            f"M{x:.2f} {base - low:.1f}V{base - neck:.1f}L{x + bar / 2:.2f} "
            f"{base - high:.1f}L{x + bar:.2f} {base - neck:.1f}V{base - low:.1f}Z"
        )

    def corners(self) -> str:
        """Reserved: foot and right side."""
        return "".join(
            f"M{self.left(place, False):.2f} {self.m.base + 3:.1f}"
            f"H{self.left(place + 1, False):.2f}V{self.m.base - self.tip(mark, False):.1f}"
            for place, mark in enumerate(self.cell.waiting)
            if mark.reserved
        )

    def dots(self, sign: str) -> list[Dot]:
        """The signs of one kind, beyond the ends of their marks."""
        found = []
        for place, mark, hangs in self._sides():
            if getattr(mark, sign):
                reach = self.tip(mark, hangs) + self.m.tip + 2
                y = self.m.base + reach if hangs else self.m.base - reach
                found.append(self._dot(place, hangs, y))
        return found

    def _dot(self, place: int, hangs: bool, y: float) -> Dot:
        x = self.left(place, hangs) + self.bar(hangs) / 2
        return Dot(x=round(x, 2), y=round(y, 1))

    def cell_drawing(self) -> CellDrawing:
        """What bears words or stands for several marks."""
        return CellDrawing(
            step=self.cell.step,
            x=round(self.x, 2),
            width=round(self.width, 2),
            windows=tuple(self._windows()),
            loads=tuple(self._span(one, self._under(), True) for one in self.cell.loads),
            ties=tuple(self._ties()),
            cuts=tuple(self._cuts()),
        )

    def _windows(self) -> Iterable[Span]:
        last_y, lift = -1e9, self.m.label + 2
        for bracket in self.cell.windows:
            marks = self.cell.waiting[bracket.first : bracket.last + 1]
            y = self.m.base - max(self.tip(mark, False) for mark in marks) - 6
            if abs(y - last_y) < lift:
                y = last_y - lift
            last_y = y
            yield self._span(bracket, y, False)

    def _under(self) -> float:
        marks = self.cell.working
        deepest = max(self.tip(mark, True) for mark in marks)
        return self.m.base + deepest + 8

    def _ties(self) -> Iterable[Span]:
        for way, row in ((1, self.cell.waiting), (-1, self.cell.working)):
            y = self.m.base - way * self.m.up * 0.24
            for first, last in held_runs(row):
                run = Bracket(first=first, last=last, parts=0)
                yield self._span(run, y, way < 0)

    def _span(self, run: Bracket, y: float, hangs: bool) -> Span:
        return Span(
            x1=round(self.left(run.first, hangs) - 0.06, 2),
            x2=round(self.left(run.last, hangs) + self.bar(hangs) + 0.06, 2),
            y=round(y, 1),
            bracket=run,
        )

    def _cuts(self) -> Iterable[Span]:
        """The line is cut: all along a shut step, else at the end of its stretch."""
        if not self.shut:
            return
        whole = any(text.startswith("/") for text in self.shut)
        start = self.x + self.width * (0.02 if whole else 0.62)
        end = self.x + self.width * 0.97
        yield Span(
            x1=round(start, 2),
            x2=round(end, 2),
            y=self.m.base,
            text=", ".join(text.removeprefix("/") for text in self.shut),
        )
