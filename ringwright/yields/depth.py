"""What the pages below Yield ask beside the yields, each from one snapshot.

Pages, their files and the API read a chart, a comparison and the losses here alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read
from ringwright.yields.charting import Control, Told, make_control
from ringwright.yields.comparing import Comparison, compare
from ringwright.yields.groups import each_load_by
from ringwright.yields.hours import read_taken
from ringwright.yields.losses import Lost, read_losses
from ringwright.yields.model import HOURS, Question, Taken, YieldSheet
from ringwright.yields.parts import Behind, read_behind
from ringwright.yields.service import known_yield, read_scope

BEHIND: Final = Remembered[tuple[Behind, ...]]()
TAKEN: Final = Remembered[tuple[Taken, ...]]()
COMPARED: Final = Remembered[Comparison]()
LOSSES: Final = Remembered[tuple[Lost, ...]]()


@dataclass(frozen=True, slots=True, kw_only=True)
class Charted:
    """A chart, and the parts of the point that is opened."""

    sheet: YieldSheet
    control: Control
    behind: tuple[Behind, ...]


def read_chart(read: Read, question: Question, told: Told) -> Charted:
    """The chart that is asked for. Raises Missing or Refused."""
    sheet = known_yield(read, question)
    taken: tuple[Taken, ...] = ()
    if told.kind in HOURS:
        taken = TAKEN.answer(
            read, (question, told.kind), lambda: _taken(read, sheet, told.kind)
        )
    behind: tuple[Behind, ...] = ()
    point = told.point
    if point is not None:
        behind = BEHIND.answer(
            read,
            (question, point),
            lambda: read_behind(
                read, read_scope(read, question, sheet.product), question.step, point
            ),
        )
    return Charted(sheet=sheet, control=make_control(sheet, told, taken), behind=behind)


def _taken(read: Read, sheet: YieldSheet, kind: str) -> tuple[Taken, ...]:
    scope = read_scope(read, sheet.question, sheet.product)
    step = sheet.step(sheet.question.step)
    return read_taken(read, scope, step, kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoGroups:
    """The groups that are named; None is one of the largest."""

    first: str | None = None
    second: str | None = None


def read_comparison(
    read: Read, question: Question, two: TwoGroups
) -> tuple[YieldSheet, Comparison]:
    """The comparison, with the loads of each group where they count."""
    if question.by in (None, "product"):
        question = replace(question, by="week")
    sheet = known_yield(read, question)
    found = COMPARED.answer(
        read,
        (question, two),
        lambda: compare(sheet, _loads(read, sheet), two.first, two.second),
    )
    return sheet, found


def _loads(read: Read, sheet: YieldSheet) -> dict[str, list[tuple[int, int]]] | None:
    """The loads of each group where the step works in loads; else None."""
    step = sheet.step(sheet.question.step)
    if step is None or not step.in_loads:
        return None
    scope = read_scope(read, sheet.question, sheet.product)
    names = [name for _, _, name in scope.weeks]
    found: dict[str, list[tuple[int, int]]] = {}
    for row in read.connection.execute(each_load_by(read, scope, step.number, sheet.by)):
        key = names[row.key] if sheet.by == "week" else row.key or ""
        found.setdefault(key, []).append((int(row.passes), int(row.firsts)))
    return found


def read_lost(read: Read, question: Question) -> tuple[YieldSheet, tuple[Lost, ...]]:
    """The yields, and what was lost."""
    sheet = known_yield(read, question)
    parts = LOSSES.answer(
        read,
        question,
        lambda: read_losses(read, read_scope(read, question, sheet.product)),
    )
    return sheet, parts
