"""A furnace run as sheets: its segments, its load, what broke a limit, what was kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from ringwright.core.instants import parse_instant
from ringwright.furnaces.rules import Batch
from ringwright.heat.judge import Judged
from ringwright.heat.recipe import RAMP, Segment
from ringwright.heatruns.breaks import CEILING, PRESSURE, Break
from ringwright.heatruns.drawing import word_of
from ringwright.heatruns.run_board import LoadLine, RunBoard
from ringwright.heatruns.run_words import RunWords
from ringwright.kit.cutoff import cut_off
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet, plain
from ringwright.parts.words import PLACE_WORDS

DASH: Final = "\u2013"
BREAKS_SHOWN: Final = 60

Link = Callable[..., str]


@dataclass(frozen=True, slots=True)
class RunSheets:
    """The sheets of one run in one language."""

    told: RunWords
    link: Link

    def segments(self, board: RunBoard) -> Sheet:
        """Every segment with every figure, and why it is met or not."""
        _ = self.told.words._
        judged = board.judged
        found = judged["segments"] if judged is not None else [{}] * len(board.recipe.segments)
        so_far = board.pictures.judgement if board.run.judgement is None else None
        stands = so_far.segments if so_far is not None else [None] * len(found)
        rows = zip(board.recipe.segments, found, stands, strict=True)
        return Sheet(
            code="segments",
            title=_("What each segment did, beside what the recipe asks"),
            columns=(
                Column(name=_("Segment"), head=True),
                Column(name=_("Kind")),
                Column(name=_("Asked"), unit="degC"),
                Column(name=_("Pressure asked"), unit="kPa"),
                Column(name=_("Start"), kind=MOMENT),
                Column(name=_("Minutes"), kind=NUMBER),
                Column(name=_("At least"), kind=NUMBER),
                Column(name=_("Lowest"), kind=NUMBER, unit="degC"),
                Column(name=_("Highest"), kind=NUMBER, unit="degC"),
                Column(name=_("Largest difference"), kind=NUMBER, unit="degC"),
                Column(name=_("Minutes out of band"), kind=NUMBER),
                Column(name=_("Met")),
                Column(name=_("Why")),
            ),
            rows=tuple(self._segment(*row) for row in rows),
        )

    def _segment(
        self, segment: Segment, found: dict[str, Any], now: Judged | None
    ) -> tuple[Cell, ...]:
        told, show = self.told, self.told.show
        _ = told.words._
        start = found.get("start")
        us = parse_instant(start) if isinstance(start, str) else None
        shown = DASH if us is None else show.moment(us, told.zone, told.now_us)
        why = told.site_times(str(found.get("why", "")))
        return (
            Cell(segment.name),
            Cell(_("ramp") if segment.kind == RAMP else _("soak")),
            Cell(told.band(segment)),
            Cell(told.pressed(segment) or DASH),
            Cell(shown, us),
            self._figure(found.get("minutes") if us is not None else None),
            self._figure(segment.min_minutes),
            self._figure(found.get("min_c")),
            self._figure(found.get("max_c")),
            self._figure(found.get("spread_c")),
            self._figure(found.get("out_of_band_minutes") if us is not None else None),
            Cell(self._met(found, now)),
            Cell(why),
        )

    def _met(self, found: dict[str, Any], now: Judged | None) -> str:
        _ = self.told.words._
        if not found or (now is not None and not now.faults and not now.met):
            return _("not yet")
        return _("met") if found["met"] else _("not met")

    def _figure(self, value: float | None) -> Cell:
        # Cut to a tenth, never rounded up: 59.96 of 60 min must not read as 60.
        if value is None:
            return Cell(DASH)
        return Cell(self.told.show.decimal(int(value * 10 + 1e-6) / 10, 1), value)

    def load(self, board: RunBoard) -> Sheet:
        """What lay where, and how each part stands now."""
        _ = self.told.words._
        return Sheet(
            code="load",
            title=_("What lay where, and how it stands now"),
            columns=(
                Column(name=_("Position"), head=True),
                Column(name=_("Part")),
                Column(name=_("Step"), kind=WHOLE),
                Column(name=_("Stands now")),
                Column(name=_("Hold")),
                Column(name=_("Nonconformity")),
            ),
            rows=tuple(self._line(line) for line in board.load),
        )

    def _line(self, line: LoadLine) -> tuple[Cell, ...]:
        _ = self.told.words._
        if not line.serial:
            return (Cell(line.position), Cell(_("free")), *(Cell(DASH) for _n in range(4)))
        stands = _(PLACE_WORDS.get(line.place, line.place))
        if line.place_step is not None:
            stands = _("%(place)s, step %(step)s", place=stands, step=line.place_step)
        number = Cell(DASH)
        if line.nonconformity is not None:
            onward = self.link("bench.nonconformities", open=line.nonconformity)
            told = _("open, entry %(n)s", n=self.told.show.count(line.nonconformity))
            number = Cell(told, line.nonconformity, onward)
        return (
            Cell(line.position),
            Cell(line.serial, line.serial, self.link("trace.part", serial=line.serial)),
            Cell(self.told.show.count(line.step), line.step),
            Cell(stands),
            Cell(line.hold or DASH),
            number,
        )

    def limits(self, board: RunBoard, most: int | None = None) -> Sheet:
        """Every limit that was broken, in time."""
        _ = self.told.words._
        found = board.pictures.drawing.breaks
        return Sheet(
            code="limits",
            title=_("What left its band or passed a limit, at its worst"),
            columns=(
                Column(name=_("When, at its worst"), kind=MOMENT, head=True),
                Column(name=_("Read by")),
                Column(name=_("Segment")),
                Column(name=_("Read"), kind=NUMBER),
                Column(name=_("Limit"), kind=NUMBER),
                Column(name=_("Unit")),
                Column(name=_("For how long"), kind=NUMBER, unit="min"),
                Column(name=_("Counts as")),
            ),
            rows=tuple(self._break(one) for one in found[:most]),
            of=len(found),
        )

    def _break(self, one: Break) -> tuple[Cell, ...]:
        _, show = self.told.words._, self.told.show
        hot = one.channel != PRESSURE
        segment = _("the ceiling") if one.way == CEILING else one.segment
        return (
            Cell(self.told.at(one.at_s), round(one.at_s * 1e6)),
            Cell(word_of(one.channel) if hot else _("pressure"), one.channel),
            Cell(segment),
            Cell(show.reading(one.value, 1), one.value),
            Cell(show.reading(one.limit, 1), one.limit),
            Cell(show.unit("degC" if hot else "kPa")),
            Cell(show.decimal(one.minutes, 1), one.minutes),
            Cell(_("an allowed dip") if one.allowed else _("a broken limit")),
        )

    def readings(self, board: RunBoard) -> Sheet:
        """What the recorder wrote, as it was kept."""
        _ = self.told.words._
        return Sheet(
            code="readings",
            title=_("What the recorder wrote, as it was kept"),
            columns=(
                Column(name=_("Kept"), kind=MOMENT, head=True),
                Column(name=_("By")),
                Column(name=_("From")),
                Column(name=_("First reading"), kind=MOMENT),
                Column(name=_("Last reading"), kind=MOMENT),
                Column(name=_("Samples"), kind=WHOLE),
                Column(name=_("Digest")),
            ),
            rows=tuple(self._batch(one) for one in board.run.batches),
        )

    def _batch(self, one: Batch) -> tuple[Cell, ...]:
        show = self.told.show
        moments = [
            Cell(show.moment(us, self.told.zone, self.told.now_us), us)
            for us in (one.at_us, one.first_us, one.last_us)
        ]
        return (
            moments[0],
            Cell(one.by),
            Cell(one.source or DASH),
            moments[1],
            moments[2],
            Cell(show.count(one.samples), one.samples),
            Cell(one.digest[:12], one.digest),
        )

    def book(self, board: RunBoard) -> Book:
        """Everything of the run as files."""
        _, run = self.told.words._, board.run
        return Book(
            page=f"furnace-run-{plain(run.code)[:60]}",
            question=question(self.told),
            answer="".join(piece.text for piece in self.told.answer(board)),
            filters=(
                (_("Run"), run.code),
                (_("Furnace"), run.furnace),
                (_("Recipe"), f"{run.recipe} {run.revision}"),
                (_("State"), self.told.state(run.state)),
            ),
            cut_off=cut_off(board.drawn, self.told.words, self.told.show),
            zone=self.told.zone,
            at_us=board.drawn.now_us,
            sheets=(
                self.segments(board),
                self.load(board),
                self.limits(board),
                self.readings(board),
            ),
        )


def question(told: RunWords) -> str:
    """What the page asks."""
    return told.words._("What does this run do, and is its cycle proved?")
