"""Where the ringed numbers of the troubles stand on the route line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ringwright.floor.line import LineDrawing, Manner, Span
from ringwright.floor.troubles import HELD, LATE, SHUT, Trouble


@dataclass(frozen=True, slots=True, kw_only=True)
class Balloon:
    """A ringed number on the picture: across in per cent, down in pixels."""

    rank: int
    x: float
    y: float


def place_balloons(
    line: LineDrawing, troubles: Sequence[Trouble], manner: Manner
) -> tuple[Balloon, ...]:
    """Each where it bites; in one step they stand one above the other."""
    cells = {cell.step: cell for cell in line.cells}
    taken: dict[int, list[float]] = {}
    found = []
    for trouble in troubles:
        cell = cells.get(trouble.step) if trouble.step is not None else None
        if cell is None:
            continue
        wanted = _height_of(trouble, cell.ties, cell.windows, manner)
        y = _free(wanted, taken.setdefault(cell.step, []), 2 * manner.radius + 4)
        x = cell.x + cell.width - 100 * (manner.radius + 3) / manner.width
        found.append(Balloon(rank=trouble.rank, x=round(x, 2), y=y))
    return tuple(found)


def _height_of(
    trouble: Trouble, ties: Sequence[Span], windows: Sequence[Span], manner: Manner
) -> float:
    if trouble.kind == SHUT:
        return manner.base - 2.4 * manner.radius
    if trouble.kind == LATE:
        return manner.base - 1.9 * manner.up
    if trouble.kind == HELD:
        return ties[0].y - manner.radius if ties else manner.base - manner.up
    return (windows[0].y if windows else manner.base - manner.up) - manner.radius


def _free(wanted: float, taken: list[float], apart: float) -> float:
    """The height wanted, or the next one above it that is free."""
    y = wanted
    while any(abs(y - other) < apart for other in taken):
        y -= apart / 2
    taken.append(y)
    return round(max(y, apart / 2), 1)
