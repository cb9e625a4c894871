"""What the yields amount to, in words: the answer, and what needs a person. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final

from ringwright.flow.answer import Piece
from ringwright.flow.loads import load_name
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.yields.model import REWORK, StepYield, WorstLoad, YieldSheet
from ringwright.yields.rules import LOWER, Share

LONGEST: Final = 90
"""Letters of an answer; clauses are left out from the right until it fits."""
MOST_FINDINGS: Final = 3
WORTH_A_WORD: Final = 2
"""Parts that a step must have cost before it is called the worst."""


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing that needs a person: what, why, and where the page shows it."""

    rank: int
    step: int
    kind: str
    """causes: at the threads; lower: at the bar."""
    cause: str
    why: str
    act: str
    """Text of the link."""
    without: str | None = None
    """The load that the link leaves out; else the link leads to the step's chart."""


def worst_step(sheet: YieldSheet) -> tuple[int, int] | None:
    """The step that causes most of what is drawn, and how many; None where none stands out."""
    ranked = [(step, parts) for step, parts in sheet.reasons.by_caused if step is not None]
    if not ranked or ranked[0][1] < WORTH_A_WORD:
        return None
    return ranked[0]


def answer(sheet: YieldSheet, words: Words, show: Figures) -> tuple[Piece, ...]:
    """The answer to "what did each step yield, and where is scrap made?"."""
    clauses = [*_left_out(sheet, words, show), *_final(sheet, words, show)]
    cause = _cause(sheet, words, show)
    pieces = [Piece("; ".join(clauses))]
    if cause and sum(map(len, clauses)) + sum(len(p.text) for p in cause) <= LONGEST:
        pieces += [Piece("; "), *cause]
    first = pieces[0].text
    pieces[0] = Piece(first[:1].upper() + first[1:])
    return (*pieces, Piece("."))


def _left_out(sheet: YieldSheet, words: Words, show: Figures) -> list[str]:
    if sheet.left_out is None:
        return []
    load = load_name(sheet.left_out.station, sheet.left_out.begin_us, sheet.zone, show)
    return [words._("without load %(load)s", load=load)]


def _final(sheet: YieldSheet, words: Words, show: Figures) -> list[str]:
    final = sheet.final
    if not final.n:
        return [words._("cannot say yet: nothing was released or scrapped")]
    told = words._(
        "%(released)s of %(all)s were released, %(share)s",
        released=show.count(sheet.released), all=show.count(final.n),
        share=interval_text(final, words, show),
    )  # fmt: skip
    return [told, words._("small n")] if final.small else [told]


def interval_text(share: Share, words: Words, show: Figures) -> str:
    """A share with its interval: 93.6 % (91.2 to 95.4)."""
    return words._(
        "%(value)s (%(low)s to %(high)s)",
        value=show.percent(share.value), low=show.bare_percent(share.low),
        high=show.bare_percent(share.high),
    )  # fmt: skip


def _cause(sheet: YieldSheet, words: Words, show: Figures) -> list[Piece]:
    worst = worst_step(sheet)
    if worst is None:
        return []
    step, parts = worst
    told = words._(
        "%(step)s causes %(parts)s of %(all)s",
        step=_name(sheet, step), parts=show.count(parts), all=show.count(sheet.reasons.total),
    )  # fmt: skip
    rework = sheet.reasons.what == REWORK
    return [
        Piece(told, True),
        Piece(" " + (words._("reworked") if rework else words._("scrapped"))),
    ]


def _name(sheet: YieldSheet, number: int) -> str:
    step = sheet.step(number)
    return step.name if step else str(number)


def findings(sheet: YieldSheet, words: Words, show: Figures) -> tuple[Finding, ...]:
    """At most three: the worst causing step, then the steps lower than the weeks before."""
    found = []
    worst = worst_step(sheet)
    if worst is not None:
        found.append(_worst(sheet, worst, words, show))
    lower = [step for step in sheet.steps if step.trend.verdict == LOWER]
    for step in sorted(lower, key=_depth, reverse=True)[: MOST_FINDINGS - len(found)]:
        found.append(_lower(step, len(found) + 1, words, show))
    return tuple(found)


def _depth(step: StepYield) -> float:
    """How far below the weeks before, in standard errors."""
    now, centre = step.first_pass, step.trend.before.value
    if now.value is None or centre is None:
        return 0.0
    return (centre - now.value) / (sqrt(centre * (1 - centre) / now.counted) or 1e-9)


def _worst(sheet: YieldSheet, worst: tuple[int, int], words: Words, show: Figures) -> Finding:
    number, parts = worst
    cause = words._(
        "%(step)s causes %(parts)s of %(all)s",
        step=_name(sheet, number), parts=show.count(parts),
        all=show.count(sheet.reasons.total),
    )  # fmt: skip
    load = sheet.worst
    if load is None or load.step != number or sheet.reasons.what == REWORK:
        why, act = _places(sheet, number, words, show), words._("Its weeks")
        return Finding(rank=1, step=number, kind="causes", cause=cause, why=why, act=act)
    why = words._(
        "Without load %(load)s: %(parts)s of %(all)s.",
        load=load_name(load.station, load.begin_us, sheet.zone, show),
        parts=show.count(parts - load.lost_here),
        all=show.count(sheet.reasons.total - load.lost),
    )  # fmt: skip
    why += _passed(sheet, load, words, show)
    return Finding(rank=1, step=number, kind="causes", cause=cause, why=why,
                   act=words._("Redraw without it"), without=load.code)  # fmt: skip


def _passed(sheet: YieldSheet, load: WorstLoad, words: Words, show: Figures) -> str:
    """The step's first-pass yield with and without the load, where it is another figure."""
    step = sheet.step(load.step)
    now = show.percent(step.first_pass.value if step else None)
    without = show.percent(load.first_pass_without.value)
    if without == now:
        return ""
    return " " + words._(
        "First-pass yield without it %(share)s, with it %(now)s.", share=without, now=now
    )


def _places(sheet: YieldSheet, number: int, words: Words, show: Figures) -> str:
    """Where the step's parts lay, the commonest place first."""
    own = [mark for mark in sheet.reasons.marks if mark.caused == number and mark.zone]
    if not own:
        return words._("No place on the part was recorded.")
    return words._(
        "Mostly at: %(place)s, %(parts)s.", place=words._(own[0].zone),
        parts=show.count(own[0].parts),
    )  # fmt: skip


def _lower(step: StepYield, rank: int, words: Words, show: Figures) -> Finding:
    cause = words._("%(step)s passed %(share)s at the first visit", step=step.name,
                    share=show.percent(step.first_pass.value))  # fmt: skip
    why = words._(
        "Lower than the 8 weeks before, %(before)s (p-chart).",
        before=show.percent(step.trend.before.value),
    )  # fmt: skip
    return Finding(
        rank=rank, step=step.number, kind="lower", cause=cause, why=why, act=words._("Chart")
    )


def trend_word(verdict: str, words: Words) -> str:
    """What is said of a share beside the weeks before it."""
    said = {
        "lower": words._("lower than the 8 weeks before"),
        "higher": words._("higher than the 8 weeks before"),
        "as before": words._("as in the 8 weeks before"),
        "small n": words._("small n"),
        "no limits": words._("no limits: before, all were alike"),
    }
    return said.get(verdict, words._("nothing to compare with"))
