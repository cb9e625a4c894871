"""The Yield page as it is drawn: every figure and coordinate, before the template. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.flow.answer import Piece
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.parts.outline import Outline, outline_of
from ringwright.yields.answer import Finding, answer, findings, trend_word, worst_step
from ringwright.yields.drawing import (
    Chart,
    Ladder,
    Spots,
    Threads,
    draw_chart,
    draw_ladder,
    draw_spots,
    draw_threads,
    row_y,
    shapes_of,
    share_widths,
)
from ringwright.yields.model import DIMENSIONS, StepYield, YieldSheet

TERMS: Final = (
    "first-pass yield", "rolled throughput yield", "final yield", "cohort", "rework ratio",
    "scrap ratio", "fall-off ratio", "load", "caused", "found", "p-chart", "small n", "entry",
    "head",
)  # fmt: skip
"""The words explained under the page."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One step beside the ladder."""

    step: StepYield
    y: float
    balloons: tuple[int, ...]
    """Findings at its bar."""


@dataclass(frozen=True, kw_only=True)
class Legend:
    """A causing step: its shape, its parts, its name."""

    shape: str
    parts: int
    name: str
    needs: bool


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One line of a Pareto list."""

    name: str
    parts: int
    width: float
    so_far: float
    """Share of the total down to this line."""


@dataclass(frozen=True, kw_only=True)
class Pareto:
    """Parts by one of their reasons, most first."""

    code: str
    title: str
    bars: tuple[Bar, ...]


@dataclass(frozen=True, kw_only=True)
class Board:
    """The whole page, from one snapshot."""

    sheet: YieldSheet
    answer: tuple[Piece, ...]
    findings: tuple[Finding, ...]
    ladder: Ladder
    rows: tuple[Row, ...]
    threads: Threads
    cause_balloon: tuple[int, float] | None
    """Rank of the finding at the threads, and how far down."""
    outline: Outline
    spots: Spots
    legend: tuple[Legend, ...]
    paretos: tuple[Pareto, ...]
    chart: Chart
    chart_name: str
    chart_word: str
    chart_step: StepYield | None
    dimensions: tuple[str, ...]
    week_first: int
    week_last: int
    ptag: str
    terms: tuple[str, ...] = TERMS


def make_board(sheet: YieldSheet, words: Words, show: Figures) -> Board:
    """Everything the Yield page draws."""
    found = findings(sheet, words, show)
    worst = worst_step(sheet)
    at = None if worst is None else worst[0]
    outline = outline_of(sheet.family)
    step = sheet.step(sheet.question.step)
    trend = step.trend if step else sheet.final_trend
    return Board(
        sheet=sheet,
        answer=answer(sheet, words, show),
        findings=found,
        ladder=draw_ladder(sheet.steps),
        rows=tuple(_row(sheet, place, found) for place in range(len(sheet.steps))),
        threads=draw_threads(sheet.reasons, sheet.steps, at),
        cause_balloon=_cause_balloon(sheet, found),
        outline=outline,
        spots=draw_spots(sheet.reasons, outline, at),
        legend=_legend(sheet, words, at),
        paretos=_paretos(sheet, words),
        chart=draw_chart(trend),
        chart_name=step.name if step else words._("Final yield"),
        chart_word=trend_word(trend.verdict, words),
        chart_step=step,
        dimensions=DIMENSIONS,
        week_first=int(sheet.weeks[0][-2:]),
        week_last=int(sheet.weeks[-1][-2:]),
        ptag=ptag_of(sheet.head_seq, sheet.now_us),
    )


def ptag_of(head_seq: int, now_us: int) -> str:
    """What a panel shows: the newest entry, and the hour, since weeks begin by themselves."""
    return f"{head_seq}-{now_us // 3_600_000_000}"


def _row(sheet: YieldSheet, place: int, found: tuple[Finding, ...]) -> Row:
    step = sheet.steps[place]
    balloons = [f.rank for f in found if f.kind == "lower" and f.step == step.number]
    return Row(step=step, y=row_y(place), balloons=tuple(balloons))


def _cause_balloon(sheet: YieldSheet, found: tuple[Finding, ...]) -> tuple[int, float] | None:
    places = {step.number: place for place, step in enumerate(sheet.steps)}
    for finding in found:
        if finding.kind == "causes" and finding.step in places:
            return finding.rank, row_y(places[finding.step])
    return None


def step_text(sheet: YieldSheet, number: int | None, words: Words) -> str:
    """A step by number and name; words where none was recorded."""
    if number is None:
        return words._("not recorded")
    step = sheet.step(number)
    return f"{number} {step.name}" if step else str(number)


def _short(sheet: YieldSheet, number: int | None, words: Words) -> str:
    step = sheet.step(number)
    return step.name if step else step_text(sheet, number, words)


def _legend(sheet: YieldSheet, words: Words, worst: int | None) -> tuple[Legend, ...]:
    shapes = shapes_of(sheet.reasons)
    return tuple(
        Legend(
            shape=shapes[number],
            parts=parts,
            name=_short(sheet, number, words),
            needs=worst is not None and number == worst,
        )
        for number, parts in sheet.reasons.by_caused
    )


def _paretos(sheet: YieldSheet, words: Words) -> tuple[Pareto, ...]:
    reasons = sheet.reasons
    defects = [(name or words._("not named"), parts) for name, parts in reasons.by_defect]
    places = [
        (words._(name) if name else words._("place not recorded"), parts)
        for name, parts in reasons.by_place
    ]
    found = [(step_text(sheet, number, words), parts) for number, parts in reasons.by_found]
    caused = [(step_text(sheet, number, words), parts) for number, parts in reasons.by_caused]
    return (
        _pareto("defect", words._("By defect"), defects),
        _pareto("place", words._("By place on the part"), places),
        _pareto("found", words._("By step that found it"), found),
        _pareto("caused", words._("By step that caused it"), caused),
    )


def _pareto(code: str, title: str, counts: list[tuple[str, int]]) -> Pareto:
    total, so_far, bars = sum(parts for _, parts in counts), 0, []
    for (name, parts), width in zip(counts, share_widths(counts), strict=True):
        so_far += parts
        bars.append(Bar(name=name, parts=parts, width=width, so_far=so_far / total))
    return Pareto(code=code, title=title, bars=tuple(bars))
