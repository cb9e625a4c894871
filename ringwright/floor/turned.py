"""The route line turned for a narrow screen: steps downward, waiting right, in work left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.floor.line import BREAK, held_runs
from ringwright.floor.marks import Cell, Mark, Marks

LINE_X: Final = 26.0
"""Where the line runs down, in per cent of the picture's width."""
RIGHT: Final = (100.0 - LINE_X) / BREAK
"""One plan of waiting, to the right."""
LEFT: Final = LINE_X / BREAK
"""One plan of work, to the left."""
PITCH: Final = 5.0
LEAST: Final = 46.0
INSET: Final = 6.0
TIP: Final = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedRow:
    """One step; paths over a width of 100 and a height in pixels."""

    step: int
    height: float
    waiting: str
    working: str
    late: str
    ties: tuple[tuple[float, float, float], ...]
    """(x, from y, to y) of each tie bar."""
    cut: str
    """Empty, `part` where a station or lot is shut, `whole` where the step is."""


def draw_turned(marks: Marks, cuts: Mapping[int, Sequence[str]]) -> tuple[TurnedRow, ...]:
    """The rows of the turned picture."""
    return tuple(_row(cell, cuts.get(cell.step, ())) for cell in marks.cells)


def _row(cell: Cell, cuts: Sequence[str]) -> TurnedRow:
    most = max(len(cell.waiting), len(cell.working))
    return TurnedRow(
        step=cell.step,
        height=max(LEAST, 2 * INSET + most * PITCH),
        waiting="".join(_bar(k, mark, 1, RIGHT) for k, mark in enumerate(cell.waiting)),
        working="".join(_bar(k, mark, -1, LEFT) for k, mark in enumerate(cell.working)),
        late="".join(_late(k, mark, 1, RIGHT) for k, mark in enumerate(cell.waiting))
        + "".join(_late(k, mark, -1, LEFT) for k, mark in enumerate(cell.working)),
        ties=tuple(
            (LINE_X + way * 4.0, INSET + first * PITCH - 1, INSET + (last + 1) * PITCH)
            for way, row in ((1, cell.waiting), (-1, cell.working))
            for first, last in held_runs(row)
        ),
        cut="whole" if any(c.startswith("/") for c in cuts) else "part" if cuts else "",
    )


def _reach(mark: Mark, plan: float) -> float:
    return max(1.2, min(mark.ratio, BREAK) * plan)


def _bar(place: int, mark: Mark, way: int, plan: float) -> str:
    reach = _reach(mark, plan)
    end = LINE_X + way * (min(reach, plan) if mark.late else reach)
    y = INSET + place * PITCH
    return f"M{LINE_X:.1f} {y:.1f}H{end:.1f}V{y + PITCH - 1.5:.1f}H{LINE_X:.1f}Z"


def _late(place: int, mark: Mark, way: int, plan: float) -> str:
    if not mark.late:
        return ""
    reach = max(_reach(mark, plan), min(plan, _reach(mark, plan)) + TIP)
    start, end = LINE_X + way * min(plan, reach - TIP), LINE_X + way * reach
    neck, y, bar = end - way * TIP, INSET + place * PITCH, PITCH - 1.5
    return (
        f"M{start:.1f} {y:.1f}H{neck:.1f}L{end:.1f} {y + bar / 2:.1f}"
        f"L{neck:.1f} {y + bar:.1f}H{start:.1f}Z"
    )
