"""The Week page as it is drawn: every figure and coordinate, worked out before the template."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.proportion import wilson
from ringwright.core.shifts import working_us
from ringwright.core.weeks import week_before
from ringwright.flow.act_words import Trouble, told_acts
from ringwright.flow.answer import (
    Piece,
    Position,
    answer,
    position,
    position_text,
)
from ringwright.flow.model import (
    Account,
    Proportion,
    StepStanding,
    StepWeek,
    Strip,
    WeekSheet,
)
from ringwright.kit.charts import IntervalBar, draw_interval, interval_floor
from ringwright.kit.numbers import SMALL_N, Figures
from ringwright.kit.promise import PromiseDrawing, PromiseFigures, draw_promise
from ringwright.kit.words import Words

HOUR_US: Final = 3_600_000_000
TERMS: Final = (
    "week", "output", "pace", "owed", "ahead", "in the cell", "hold", "over plan",
    "first-pass yield", "rework ratio", "touch", "queue", "rolled throughput yield",
    "final yield", "scrapped", "cycle time", "plan", "cohort", "reconciliation",
    "little's law", "restated", "published", "small n", "entry", "head",
)  # fmt: skip
"""The words explained under the page."""
SCREEN: Final = 400
TALLEST: Final = 300
LOWEST: Final = 94


@dataclass(frozen=True, kw_only=True)
class StepRow:
    """One step in the table: what stands there, what the week did there."""

    number: int
    name: str
    standing: StepStanding | None
    week: StepWeek | None
    bar: IntervalBar | None
    rework: Proportion
    small: bool
    troubles: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Totals:
    """Parts of one product in the cell; held and over plan overlap and are never added."""

    waiting: int
    in_work: int
    held: int
    over_plan: int


@dataclass(frozen=True, kw_only=True)
class BoardStrip:
    """One product on the page."""

    strip: Strip
    drawing: PromiseDrawing
    place: Position
    place_text: str
    to_go: float | None
    rows: tuple[StepRow, ...]
    floor: float
    totals: Totals
    account: Account
    cohort_floor: Proportion
    cohort_ceiling: Proportion
    balloons: tuple[Balloon, ...]


@dataclass(frozen=True, kw_only=True)
class Balloon:
    """A ringed number beside the ink's end, and the foot of its line, in pixels from there."""

    rank: int
    x: float
    y: float
    from_x: float
    from_y: float


@dataclass(frozen=True, kw_only=True)
class Board:
    """The whole page, from one snapshot."""

    sheet: WeekSheet
    answer: tuple[Piece, ...]
    strips: tuple[BoardStrip, ...]
    troubles: tuple[Trouble, ...]
    hours_left: float
    hours_whole: float
    begun: bool
    over: bool
    by_fours: bool
    promised: bool
    week_number: int
    before: str
    after: str
    ptag: str
    terms: tuple[str, ...] = TERMS


def make_board(sheet: WeekSheet, words: Words, show: Figures) -> Board:
    """Everything the Week page draws."""
    troubles = told_acts(sheet, words, show)
    pairs = zip(sheet.strips, _heights(sheet), strict=True)
    strips = [
        _strip(sheet, strip, height, _worded(strip, sheet, words, show), troubles)
        for strip, height in pairs
    ]
    span = (sheet.start_us, sheet.end_us)
    left = working_us(sheet.working, max(sheet.now_us, sheet.start_us), sheet.end_us)
    return Board(
        sheet=sheet,
        answer=answer(sheet, words, show),
        strips=tuple(strips),
        troubles=troubles,
        hours_left=left / HOUR_US if sheet.now_us < sheet.end_us else 0.0,
        hours_whole=working_us(sheet.working, *span) / HOUR_US,
        begun=sheet.now_us >= sheet.start_us,
        over=sheet.now_us >= sheet.end_us,
        by_fours=any(strip.drawing.every > 1 for strip in strips),
        promised=any(strip.numbers.target is not None for strip in sheet.strips),
        week_number=int(sheet.week[-2:]),
        before=week_before(sheet.week),
        after=week_before(sheet.week, -1),
        ptag=ptag_of(sheet.head_seq, sheet.now_us),
    )


def ptag_of(head_seq: int, now_us: int) -> str:
    """What a panel shows: the newest entry, and the minute, since the pace moves by itself."""
    return f"{head_seq}-{now_us // 60_000_000}"


def _worded(
    strip: Strip, sheet: WeekSheet, words: Words, show: Figures
) -> tuple[Position, str]:
    place = position(strip, sheet.now_us)
    return place, position_text(place, strip, words, show)


def _strip(
    sheet: WeekSheet,
    strip: Strip,
    height: int,
    worded: tuple[Position, str],
    troubles: tuple[Trouble, ...],
) -> BoardStrip:
    numbers = strip.numbers
    place, place_text = worded
    drawing = _drawing(sheet, strip, height)
    mine = tuple(t for t in troubles if t.product == numbers.product and t.step is not None)
    target, cohort = numbers.target, numbers.cohort
    return BoardStrip(
        strip=strip,
        drawing=drawing,
        place=place,
        place_text=place_text,
        to_go=None if target is None else max(0.0, target - numbers.output),
        rows=_rows(strip, mine),
        floor=interval_floor([step.first_pass_yield.low for step in numbers.steps]),
        totals=_totals(strip),
        account=strip.account,
        cohort_floor=_proportion(cohort.released, cohort.created),
        cohort_ceiling=_proportion(cohort.created - cohort.scrapped, cohort.created),
        balloons=_balloons(mine, drawing),
    )


RADIUS: Final = 10.5
REACH: Final = 40.0
LEAST_ROOM: Final = 14.0


def _balloons(troubles: tuple[Trouble, ...], drawing: PromiseDrawing) -> tuple[Balloon, ...]:
    """Fanned out beside the ink's end, on the side that has not been drawn on yet."""
    side = 1.0 if drawing.now_x < 80 else -1.0
    top, bottom = LEAST_ROOM - drawing.now_y, drawing.height - LEAST_ROOM - drawing.now_y
    step = min(27.0, (bottom - top) / max(1, len(troubles) - 1))
    first = max(top, -step * (len(troubles) - 1) / 2)
    first = min(first, bottom - step * (len(troubles) - 1))
    found = []
    for place, trouble in enumerate(troubles):
        x, y = side * (REACH if place % 2 == 0 else REACH + 28), first + place * step
        length = (x * x + y * y) ** 0.5
        share = 1 - RADIUS / length
        found.append(
            Balloon(
                rank=trouble.rank, x=round(x * 1.0, 1), y=round(y, 1),
                from_x=round(x * share, 1), from_y=round(y * share, 1),
            )
        )  # fmt: skip
    return tuple(found)


def _drawing(sheet: WeekSheet, strip: Strip, height: int) -> PromiseDrawing:
    numbers = strip.numbers
    figures = PromiseFigures(
        releases_us=strip.releases_us,
        working=sheet.working,
        start_us=numbers.start_us,
        end_us=numbers.end_us,
        now_us=sheet.now_us,
        target=numbers.target,
        zone=sheet.zone,
        output=numbers.output,
    )
    return draw_promise(figures, height)


def _heights(sheet: WeekSheet) -> list[int]:
    """Pixels of each strip: one screen shared out, twice as much to a product that owes."""
    weights = [
        2 if position(strip, sheet.now_us).needs_a_person else 1 for strip in sheet.strips
    ]
    return [min(TALLEST, max(LOWEST, SCREEN * w // sum(weights))) for w in weights]


def _rows(strip: Strip, troubles: tuple[Trouble, ...]) -> tuple[StepRow, ...]:
    standing = {row.number: row for row in strip.standing}
    weeks = {row.number: row for row in strip.numbers.steps}
    floor = interval_floor([step.first_pass_yield.low for step in weeks.values()])
    # The route's own order first; a step that only stands there comes where its number says.
    order = [*weeks, *sorted(standing.keys() - weeks.keys())]
    return tuple(
        _row(number, standing.get(number), weeks.get(number), floor, troubles)
        for number in order
    )


def _row(
    number: int,
    standing: StepStanding | None,
    week: StepWeek | None,
    floor: float,
    troubles: tuple[Trouble, ...],
) -> StepRow:
    fpy = week.first_pass_yield if week else _proportion(0, 0)
    reworks = round((week.rework_ratio or 0.0) * week.visits) if week else 0
    return StepRow(
        number=number,
        name=week.name if week else standing.name if standing else "",
        standing=standing,
        week=week,
        bar=draw_interval(fpy.value, fpy.low, fpy.high, floor),
        rework=_proportion(reworks, week.visits if week else 0),
        small=0 < fpy.n < SMALL_N,
        troubles=tuple(t.rank for t in troubles if t.step == number),
    )


def _totals(strip: Strip) -> Totals:
    rows = strip.standing
    return Totals(
        waiting=sum(row.waiting for row in rows),
        in_work=sum(row.in_work for row in rows),
        held=sum(row.held for row in rows),
        over_plan=sum(row.over_plan for row in rows),
    )


def _proportion(part: int, whole: int) -> Proportion:
    if whole == 0:
        return Proportion(value=None, low=None, high=None, n=0)
    low, high = wilson(part, whole)
    return Proportion(value=part / whole, low=low, high=high, n=whole)
