"""The Floor as it is drawn: its answer, its picture, its figures, before any page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from ringwright.floor.balloons import Balloon, place_balloons
from ringwright.floor.line import (
    DESK,
    WALL,
    CellDrawing,
    LineDrawing,
    Manner,
    draw_line,
)
from ringwright.floor.marks import marks_of
from ringwright.floor.model import HOUR_US, FloorSheet, Shut
from ringwright.floor.troubles import (
    Trouble,
    cuts_of,
    find_troubles,
    shut_here,
)
from ringwright.floor.turned import TurnedRow, draw_turned
from ringwright.flow.answer import LONGEST, Piece
from ringwright.flow.loads import Load
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words

TERMS: Final = (
    "waiting", "in work", "late", "over plan", "hold", "window", "load", "shut", "reserved",
    "looked for", "goes first", "whereabouts", "entry", "head",
)  # fmt: skip
"""The words explained under the page."""
WALL_TROUBLES: Final = 3
DAY_US: Final = 24 * HOUR_US
LONG_WORD: Final = 8
SOFT_HYPHEN: Final = "\u00ad"
APART: Final = 5.4
"""How far apart two loads must stand to bear their own words, in per cent of the line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCount:
    """What stands at a step."""

    number: int
    name: str
    wall_name: str
    waiting: int
    in_work: int
    late: int
    held: int
    raised: int
    sought: int
    oldest_us: int | None
    """Since when the part longest there stands there."""
    oldest: str

    @property
    def parts(self) -> int:
        """All parts at the step."""
        return self.waiting + self.in_work

    @property
    def counted(self) -> tuple[int, ...]:
        """The counts in the order of the table of steps."""
        return (
            self.waiting, self.in_work, self.late, self.held, self.raised, self.sought,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words at a place of the picture, on one or two lines."""

    x: float
    y: float
    text: str
    under: str = ""


@dataclass(frozen=True, kw_only=True)
class Board:
    """The whole page, from one snapshot."""

    sheet: FloorSheet
    answer: tuple[Piece, ...]
    troubles: tuple[Trouble, ...]
    counts: tuple[StepCount, ...]
    line: LineDrawing
    rows: tuple[TurnedRow, ...]
    balloons: tuple[Balloon, ...]
    labels: tuple[Label, ...]
    """Names of loads and of what is shut."""
    hours: tuple[Label, ...]
    """When windows are over."""
    ptag: str
    terms: tuple[str, ...] = TERMS

    @property
    def total(self) -> int:
        """All parts of the product on the route."""
        return len(self.sheet.parts)

    @property
    def every(self) -> int:
        """How many parts a mark is."""
        return self.line.every


def ptag_of(head_seq: int, now_us: int, code: str = "") -> str:
    """What a panel shows: the newest entry and the minute, since ages move by themselves."""
    return f"{head_seq}-{now_us // 60_000_000}" + (f"-{code}" if code else "")


def make_board(
    sheet: FloorSheet, words: Words, show: Figures, *, wall: bool = False, code: str = ""
) -> Board:
    """Everything the Floor page draws; `code` names the page's code, where it matters."""
    manner = WALL if wall else DESK
    troubles = find_troubles(sheet, words, show)[: WALL_TROUBLES if wall else None]
    marks, cuts = marks_of(sheet), cuts_of(sheet)
    line = draw_line(marks, cuts, manner)
    return Board(
        sheet=sheet,
        answer=answer(sheet, words, show, short=wall),
        troubles=troubles,
        counts=count_steps(sheet),
        line=line,
        rows=draw_turned(marks, cuts),
        balloons=place_balloons(line, troubles, manner),
        labels=_labels(line, sheet, words, show),
        hours=_hours(line, sheet, show) if manner.worded else (),
        ptag=ptag_of(sheet.head_seq, sheet.now_us, code),
    )


def count_steps(sheet: FloorSheet) -> tuple[StepCount, ...]:
    """The figures under the picture and of its table."""
    found = []
    for step in sheet.steps:
        here = [part for part in sheet.parts if part.step == step.number]
        oldest = min(here, key=lambda part: (part.since_us, part.serial), default=None)
        found.append(
            StepCount(
                number=step.number,
                name=step.name,
                wall_name=wall_name(step.name),
                waiting=sum(not part.in_work for part in here),
                in_work=sum(part.in_work for part in here),
                late=sum(part.late for part in here),
                held=sum(part.hold is not None for part in here),
                raised=sum(part.priority > 0 for part in here),
                sought=sum(part.sought for part in here),
                oldest_us=oldest.since_us if oldest else None,
                oldest=oldest.serial if oldest else "",
            )
        )
    return tuple(found)


def parts_noun(family: str, count: int, words: Words, show: Figures) -> str:
    """ "176 blades", "1 case", "12 parts"."""
    n = show.count(count)
    if family in ("fan-blade", "turbine-blade"):
        return words.ngettext("%(n)s blade", "%(n)s blades", count, n=n)
    if family == "case":
        return words.ngettext("%(n)s case", "%(n)s cases", count, n=n)
    return words.ngettext("%(n)s part", "%(n)s parts", count, n=n)


def answer(
    sheet: FloorSheet, words: Words, show: Figures, *, short: bool = False
) -> tuple[Piece, ...]:
    """Where the work stands, in one sentence of at most ninety letters."""
    if not sheet.parts:
        return (Piece(_empty(sheet, words)),)
    late = sum(part.late for part in sheet.parts)
    held = sum(part.hold is not None for part in sheet.parts)
    parts = parts_noun(sheet.family, len(sheet.parts), words, show)
    stuck = _stuck(late, held, words, show, short)
    if short:
        pieces = [Piece(words._("%(parts)s: ", parts=parts)), stuck]
    else:
        pieces = [Piece(words._("Of %(parts)s on the route ", parts=parts)), stuck]
    used = sum(len(piece.text) for piece in pieces)
    shut = _shut_clause(shut_here(sheet), (words, show), LONGEST - used - 1, short)
    if shut:
        pieces.append(Piece(f"; {shut}"))
    return tuple(pieces if short else [*pieces, Piece(".")])


def _empty(sheet: FloorSheet, words: Words) -> str:
    if not sheet.products:
        return words._("No route card is loaded yet; add one on Ground rules.")
    if not sheet.ever:
        return words._("No part has been created yet.")
    return words._("No part of %(name)s stands on the route.", name=sheet.name)


def _stuck(late: int, held: int, words: Words, show: Figures, short: bool) -> Piece:
    _, ngettext = words._, words.ngettext
    figures = {"late": show.count(late), "held": show.count(held)}
    if short:
        texts = [_("%(late)s late", **figures)] if late else []
        texts += [_("%(held)s held", **figures)] if held else []
        return Piece(", ".join(texts) or _("none late, none held"), bool(texts))
    if late and held:
        both = ngettext(
            "%(late)s is late and %(held)s held", "%(late)s are late and %(held)s held",
            late, **figures,
        )  # fmt: skip
        return Piece(both, True)
    if late:
        return Piece(ngettext("%(late)s is late", "%(late)s are late", late, **figures), True)
    if held:
        return Piece(ngettext("%(held)s is held", "%(held)s are held", held, **figures), True)
    return Piece(_("none is late or held"))


def _shut_clause(
    shut: Sequence[Shut], told: tuple[Words, Figures], room: int, short: bool
) -> str:
    """The names of what is shut; only how many where the names do not fit; else nothing."""
    if not shut:
        return ""
    words, show = told
    names = [_shut_name(one, words) for one in shut]
    if short:
        said = words._("%(names)s shut", names=", ".join(names))
    elif len(names) == 1:
        said = words._("%(name)s is shut", name=names[0])
    else:
        listed = ", ".join(names[:-1])
        said = words._("%(names)s and %(last)s are shut", names=listed, last=names[-1])
    if len(said) + 2 <= room:
        return said
    said = words.ngettext(
        "%(n)s thing is shut", "%(n)s things are shut", len(shut), n=show.count(len(shut))
    )
    return said if len(said) + 2 <= room else ""


def _shut_name(shut: Shut, words: Words) -> str:
    if shut.kind == "step":
        return words._("step %(step)s", step=shut.code.rpartition("/")[2])
    if shut.kind == "station":
        return shut.code
    return words._("lot %(code)s", code=shut.code) if shut.kind == "lot" else shut.code


def _labels(
    line: LineDrawing, sheet: FloorSheet, words: Words, show: Figures
) -> tuple[Label, ...]:
    if not line.manner.worded:
        return ()
    return (*_load_labels(line, sheet, words, show), *_cut_labels(line, words))


def _load_labels(
    line: LineDrawing, sheet: FloorSheet, words: Words, show: Figures
) -> list[Label]:
    found = []
    for cell in line.cells:
        spans = [span for span in cell.loads if span.bracket and span.bracket.load]
        groups = [[span] for span in spans]
        if any(b.x1 - a.x1 < APART for a, b in pairwise(spans)):
            groups = [spans]
        for group in groups:
            loads = [s.bracket.load for s in group if s.bracket and s.bracket.load]
            y = max(span.y for span in group) + line.manner.label
            label = _load_label(loads, y, (sheet, words, show))
            if line.manner.share(label.text) > cell.width and len(loads) > 1:
                label = replace(
                    label, text=words.ngettext("%(n)s load", "%(n)s loads", len(loads))
                )
            found.append(_placed(label, group[0].x1, cell, line.manner))
    return found


def _placed(label: Label, x: float, cell: CellDrawing, manner: Manner) -> Label:
    """Words at their mark, but not over the next step's stretch where that can be helped."""
    wide = max(manner.share(label.text), manner.share(label.under))
    return replace(label, x=round(max(cell.x, min(x, cell.x + cell.width - wide)), 2))


def _load_label(
    loads: Sequence[Load], y: float, told: tuple[FloorSheet, Words, Figures]
) -> Label:
    sheet, words, show = told
    names = [load.station or show.clock(load.begin_us, sheet.zone) for load in loads]
    text = ", ".join(names)
    if len(loads) > 2:
        text = words.ngettext("%(n)s load", "%(n)s loads", len(loads), n=len(loads))
    hours = {step.number: step.planned_hours for step in sheet.steps}
    out_us = min(load.begin_us + int(hours[load.step] * HOUR_US) for load in loads)
    under = words._("out %(clock)s", clock=_short_moment(out_us, sheet, show))
    return Label(x=0.0, y=y, text=text, under=under)


def _short_moment(us: int, sheet: FloorSheet, show: Figures) -> str:
    """The hour; with the day's name where it lies more than a day ahead or is long past."""
    clock = show.clock(us, sheet.zone)
    if -DAY_US // 2 < us - sheet.now_us < DAY_US:
        return clock
    return f"{show.weekday(us, sheet.zone)} {clock}"


def wall_name(name: str) -> str:
    """A step's name that may break within its long words, near their middle."""
    return " ".join(_breakable(word) for word in name.split())


def _breakable(word: str) -> str:
    if len(word) < LONG_WORD:
        return word
    middle = len(word) / 2
    breaks = [
        k
        for k in range(3, len(word) - 3)
        if word[k - 1].lower() in "aeiouy" and word[k].lower() not in "aeiouy"
    ]
    place = min(breaks, key=lambda k: abs(k - middle), default=len(word) // 2)
    return f"{word[:place]}{SOFT_HYPHEN}{word[place:]}"


def _cut_labels(line: LineDrawing, words: Words) -> list[Label]:
    found = []
    for cell in line.cells:
        under = max((span.y + 2.4 * line.manner.label for span in cell.loads), default=0.0)
        for span in cell.cuts:
            y = max(span.y + 1.9 * line.manner.label, under + line.manner.label)
            text = words._("%(name)s shut", name=span.text)
            label = Label(x=0.0, y=round(y, 1), text=text)
            found.append(_placed(label, span.x1, cell, line.manner))
    return found


def _hours(line: LineDrawing, sheet: FloorSheet, show: Figures) -> tuple[Label, ...]:
    found = []
    for cell in line.cells:
        for span in cell.windows:
            if span.bracket is None:
                continue
            until = _short_moment(span.bracket.deadline_us, sheet, show)
            label = Label(x=0.0, y=round(span.y - 5, 1), text=until)
            found.append(_placed(label, span.x1, cell, line.manner))
    return tuple(found)
