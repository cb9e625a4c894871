"""The furnace week as sheets: what stands on the page and in its files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ringwright.heatruns.load_words import LoadWords
from ringwright.heatruns.next_load import NextLoads
from ringwright.heatruns.waiting import ForFurnace
from ringwright.heatruns.week import MINUTE_US, Cycles, Fill, Passed, Use, WeekOfFurnaces
from ringwright.heatruns.week_words import WeekWords
from ringwright.heatruns.words import STATES, FurnaceWords
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words

Link = Callable[..., str]
HOUR_US = 3_600_000_000


@dataclass(frozen=True, slots=True)
class WeekLists:
    """The sheets in one language."""

    words: Words
    show: Figures
    link: Link
    zone: str

    @property
    def told(self) -> WeekWords:
        """The words beside the figures."""
        return WeekWords(self.words, self.show, self.zone)

    @property
    def next_told(self) -> LoadWords:
        """The words of the next loads."""
        return LoadWords(self.words, self.show, self.zone)

    def all(self, week: WeekOfFurnaces, found: NextLoads | None) -> tuple[Sheet, ...]:
        """Every sheet of the page, in its order."""
        coming = (self.free(found), self.loads(found), self.misses(found)) if found else ()
        return (
            *coming,
            self.use(week),
            self.cycles(week),
            self.recipes(week),
            self.furnaces(week),
            self.positions(week),
            self.revisions(week),
            self.runs(week),
        )

    def free(self, found: NextLoads) -> Sheet:
        """When each furnace is free next."""
        _ = self.words._
        return Sheet(
            code="free",
            title=_("Free next"),
            columns=(
                Column(name=_("Furnace"), head=True),
                Column(name=_("Free from"), kind=MOMENT),
                Column(name=_("Now")),
            ),
            rows=tuple(
                (
                    Cell(one.furnace, one.furnace, self._furnace(one.furnace)),
                    self._moment(one.free_us),
                    Cell(self.next_told.free(one, found.now_us)),
                )
                for one in found.free
            ),
        )

    def loads(self, found: NextLoads) -> Sheet:
        """The suggested loads, part by part in the order they go in."""
        _ = self.words._
        rows = [
            (
                Cell(one.run or one.furnace, one.run or one.furnace),
                Cell(self.show.count(number), number),
                Cell(place.position or NOTHING, place.position),
                *self._part(place.part),
                *self._window(place.part, one.begin_us),
                Cell(one.recipe),
                self._moment(one.begin_us),
            )
            for one in found.loads
            for number, place in enumerate(one.places, start=1)
        ]
        return Sheet(
            code="next loads",
            title=_("Suggested loads, in the order the parts go in"),
            columns=(
                Column(name=_("Furnace or run")),
                Column(name=_("In order"), kind=WHOLE),
                Column(name=_("Position")),
                Column(name=_("Part"), head=True),
                Column(name=_("Step")),
                Column(name=_("Window until"), kind=MOMENT),
                Column(name=_("Left at the start")),
                Column(name=_("Recipe")),
                Column(name=_("Begins"), kind=MOMENT),
            ),
            rows=tuple(rows),
        )

    def misses(self, found: NextLoads) -> Sheet:
        """The parts that miss their window, and why."""
        _ = self.words._
        parts = {one.serial: one for one in (*found.over, *found.missed)}
        return Sheet(
            code="misses",
            title=_("Parts that miss their window"),
            columns=(
                Column(name=_("Part"), head=True),
                Column(name=_("Step")),
                Column(name=_("Window until"), kind=MOMENT),
                Column(name=_("Left now")),
                Column(name=_("Why")),
            ),
            rows=tuple(
                (
                    *self._part(parts[serial]),
                    *self._window(parts[serial], found.now_us),
                    Cell(why),
                )
                for serial, why in self.next_told.why_missed(found)
            ),
        )

    def _part(self, part: ForFurnace) -> tuple[Cell, ...]:
        link = self.link("trace.part", serial=part.serial)
        step = f"{part.product} {part.step.number} {part.step.name}"
        return Cell(part.serial, part.serial, link), Cell(step)

    def _window(self, part: ForFurnace, at_us: int) -> tuple[Cell, ...]:
        left = part.left_us(at_us)
        told = FurnaceWords(self.words, self.show).left(part, at_us)
        return self._moment(part.deadline_us), Cell(told, None if left is None else left / 6e7)

    def _furnace(self, code: str) -> str:
        return self.link("heatruns.furnace", furnace=code)

    def _moment(self, us: int | None) -> Cell:
        return Cell(NOTHING) if us is None else Cell(self.show.full(us, self.zone), us)

    def use(self, week: WeekOfFurnaces) -> Sheet:
        """How much each furnace was in a cycle, and how full its runs were."""
        _ = self.words._
        begun = sum(one.cycles.begun for one in week.furnaces)
        rows = [
            self._use(one.code, one.use, one.cycles.begun, one.fill) for one in week.furnaces
        ]
        return Sheet(
            code="use",
            title=_("Use and load"),
            columns=(
                Column(name=_("Furnace"), head=True),
                Column(name=_("In a cycle"), kind=NUMBER, unit="h"),
                Column(name=_("of all hours"), kind=SHARE, unit="%"),
                Column(name=_("of working hours"), kind=SHARE, unit="%"),
                Column(name=_("Runs begun"), kind=WHOLE),
                Column(name=_("Parts loaded"), kind=WHOLE),
                Column(name=_("Positions"), kind=WHOLE),
                Column(name=_("Load factor"), kind=SHARE, unit="%"),
            ),
            rows=(*rows, self._use("", week.use, begun, week.fill))
            if len(rows) > 1
            else tuple(rows),
        )

    def _use(self, code: str, use: Use, begun: int, fill: Fill) -> tuple[Cell, ...]:
        hours = use.in_cycle_us / HOUR_US
        return (
            self._name(code),
            Cell(self.show.decimal(hours, 1), hours),
            self._percent(use.share),
            self._percent(use.working_share),
            self._count(begun),
            self._count(fill.loaded),
            self._count(fill.positions),
            self._percent(fill.share),
        )

    def _name(self, code: str) -> Cell:
        if not code:
            return Cell(self.words._("all furnaces"))
        return Cell(code, code, self._furnace(code))

    def cycles(self, week: WeekOfFurnaces) -> Sheet:
        """Cycle times by furnace."""
        _ = self.words._
        return Sheet(
            code="cycles",
            title=_("Cycle time, by furnace"),
            columns=(Column(name=_("Furnace"), head=True), *self._cycle_columns()),
            rows=tuple(
                (self._name(one.code), *self._cycle(one.cycles)) for one in week.furnaces
            ),
        )

    def recipes(self, week: WeekOfFurnaces) -> Sheet:
        """Cycle times by revision of a recipe, against its plan."""
        _ = self.words._
        return Sheet(
            code="recipes",
            title=_("Cycle time, by recipe"),
            columns=(
                Column(name=_("Recipe"), head=True),
                Column(name=_("Revision")),
                Column(name=_("Planned"), kind=NUMBER, unit="min"),
                *self._cycle_columns(),
            ),
            rows=tuple(
                (
                    self._recipe(one.code),
                    Cell(one.revision),
                    self._minutes(one.planned_min),
                    *self._cycle(one.cycles),
                )
                for one in week.recipes
            ),
        )

    def _recipe(self, code: str) -> Cell:
        return Cell(code, code, self.link("heatruns.recipe", recipe=code))

    def _cycle_columns(self) -> tuple[Column, ...]:
        _ = self.words._
        return (
            Column(name=_("Finished"), kind=WHOLE),
            Column(name=_("Median"), kind=NUMBER, unit="min"),
            Column(name=_("Longest"), kind=NUMBER, unit="min"),
            Column(name=_("Median over plan"), kind=NUMBER, unit="min"),
            Column(name=_("Most over plan"), kind=NUMBER, unit="min"),
            Column(name=_("Not met"), kind=WHOLE),
            Column(name=_("Aborted"), kind=WHOLE),
        )

    def _cycle(self, cycles: Cycles) -> tuple[Cell, ...]:
        return (
            self._count(cycles.finished),
            self._minutes(cycles.median_min),
            self._minutes(cycles.longest_min),
            self._minutes(cycles.median_over_min),
            self._minutes(cycles.longest_over_min),
            self._count(cycles.not_met),
            self._count(cycles.aborted),
        )

    def _minutes(self, value: float | None) -> Cell:
        return Cell(self.show.decimal(value, 0), value)

    def furnaces(self, week: WeekOfFurnaces) -> Sheet:
        """First-pass yield by furnace."""
        _ = self.words._
        rows = [(self._name(one.code), *self._passed(one.passed)) for one in week.furnaces]
        if len(rows) > 1:
            rows.append((self._name(""), *self._passed(week.passed)))
        return self._yields(
            "yield furnaces",
            _("Passed first time, by furnace"),
            (Column(name=_("Furnace"), head=True),),
            rows,
        )

    def positions(self, week: WeekOfFurnaces) -> Sheet:
        """First-pass yield by position; the interval counts parts."""
        _ = self.words._
        return self._yields(
            "yield positions",
            _("Passed first time, by position"),
            (Column(name=_("Furnace")), Column(name=_("Position"), head=True)),
            [
                (Cell(one.code), Cell(position), *self._passed(passed))
                for one in week.furnaces
                for position, passed in one.positions
            ],
        )

    def revisions(self, week: WeekOfFurnaces) -> Sheet:
        """First-pass yield by revision of a recipe."""
        _ = self.words._
        return self._yields(
            "yield recipes",
            _("Passed first time, by recipe"),
            (Column(name=_("Recipe"), head=True), Column(name=_("Revision"))),
            [
                (self._recipe(one.code), Cell(one.revision), *self._passed(one.passed))
                for one in week.recipes
            ],
        )

    def _yields(
        self,
        code: str,
        title: str,
        names: tuple[Column, ...],
        rows: Sequence[tuple[Cell, ...]],
    ) -> Sheet:
        _ = self.words._
        return Sheet(
            code=code,
            title=title,
            columns=(
                *names,
                Column(name=_("Share"), kind=SHARE, unit="%"),
                Column(name=_("from"), kind=SHARE, unit="%"),
                Column(name=_("to"), kind=SHARE, unit="%"),
                Column(name=_("Passed"), kind=WHOLE),
                Column(name=_("First visits"), kind=WHOLE),
                Column(name=_("Interval counts")),
                Column(name=_("Came again"), kind=WHOLE),
                Column(name=_("Note")),
            ),
            rows=tuple(rows),
        )

    def _passed(self, passed: Passed) -> tuple[Cell, ...]:
        share, n_ = passed.share, self.words.ngettext
        counted = (
            n_("%(n)s part", "%(n)s parts", share.n, n=self.show.count(share.n))
            if share.loads is None
            else n_("%(n)s run", "%(n)s runs", share.loads, n=self.show.count(share.loads))
        )
        return (
            self._percent(share.value),
            self._percent(share.low),
            self._percent(share.high),
            self._count(passed.passed),
            self._count(passed.first),
            Cell(counted if share.n else NOTHING, share.counted),
            self._count(passed.again),
            Cell(self.told.small(passed) or NOTHING),
        )

    def _percent(self, value: float | None) -> Cell:
        return Cell(self.show.bare_percent(value), value)

    def _count(self, value: int) -> Cell:
        return Cell(self.show.count(value), value)

    def runs(self, week: WeekOfFurnaces) -> Sheet:
        """The runs whose cycle went on in the week, by furnace, the oldest first."""
        _ = self.words._
        rows = []
        for run in (run for one in week.furnaces for run in one.runs):
            began, ended = run.started_us or 0, run.ended_us
            took = None if ended is None else (ended - began) / MINUTE_US
            rows.append(
                (
                    Cell(run.code, run.code, self.link("heatruns.run", run=run.code)),
                    Cell(f"{run.recipe} {run.revision}"),
                    Cell(_(STATES[run.state])),
                    self._count(len(run.load)),
                    self._moment(began),
                    self._moment(ended),
                    self._minutes(took),
                    self._minutes(week.planned.get((run.recipe, run.revision))),
                )
            )
        return Sheet(
            code="runs",
            title=_("Runs of the week"),
            columns=(
                Column(name=_("Run"), head=True),
                Column(name=_("Recipe")),
                Column(name=_("State")),
                Column(name=_("Load"), kind=WHOLE),
                Column(name=_("Began"), kind=MOMENT),
                Column(name=_("Ended"), kind=MOMENT),
                Column(name=_("Took"), kind=NUMBER, unit="min"),
                Column(name=_("Planned"), kind=NUMBER, unit="min"),
            ),
            rows=tuple(rows),
        )

    def book(self, week: WeekOfFurnaces, found: NextLoads | None) -> Book:
        """The page as a book."""
        _, show, passed = self.words._, self.show, week.passed
        return Book(
            page="furnace-week",
            question=_("How well were the furnaces used, and what came out of them?"),
            answer="".join(piece.text for piece in self.told.answer(week, found)),
            filters=((_("Site"), week.site_name or week.site), (_("week"), week.week)),
            cut_off=cut_off(week, self.words, show),
            zone=week.zone,
            at_us=week.now_us,
            sheets=self.all(week, found),
            reconciliation=(
                _(
                    "%(visits)s visits ended in runs = %(first)s first visits + %(again)s that "
                    "came again",
                    visits=show.count(passed.visits), first=show.count(passed.first),
                    again=show.count(passed.again),
                ),
            ),
        )  # fmt: skip
