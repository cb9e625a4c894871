"""The Week page as sheets: the figures under its pictures, and the files made from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ringwright.flow.account_words import account_line
from ringwright.flow.act_words import acts_sheet
from ringwright.flow.board import Board, BoardStrip, StepRow
from ringwright.flow.editions import PublishedBlock
from ringwright.flow.model import CycleTime, Proportion, WeekSheet
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import (
    MOMENT,
    NUMBER,
    SHARE,
    WHOLE,
    Book,
    Cell,
    Column,
    Sheet,
)
from ringwright.kit.words import Words


class WeekSheets:
    """The sheets of a week in one language."""

    def __init__(self, board: Board, words: Words, show: Figures) -> None:
        self.board = board
        self.words = words
        self.show = show
        self.zone = board.sheet.zone

    def all(self) -> tuple[Sheet, ...]:
        """Every sheet, product by product in the order of the page."""
        found: list[Sheet] = []
        for strip in self.board.strips:
            found += [
                self.promise(strip),
                self.steps(strip),
                self.yields(strip),
                self.scrap(strip),
                self.hours(strip),
                self.cycle_time(strip),
                self.account(strip),
                self.cohort(strip),
                self.law(strip),
            ]
        found.append(acts_sheet(self.board.troubles, self.words, self.show))
        return tuple(found)

    def promise(self, strip: BoardStrip) -> Sheet:
        """Output, pace and their difference at each midnight and now."""
        _ = self.words._
        return Sheet(
            code=_code(strip, "promise"),
            title=strip.strip.name,
            columns=(
                Column(name=_("until"), kind=MOMENT, head=True),
                Column(name=_("output"), kind=WHOLE, unit=_("parts")),
                Column(name=_("pace"), kind=NUMBER, unit=_("parts")),
                Column(name=_("difference"), kind=NUMBER, unit=_("parts")),
            ),
            rows=tuple(
                (
                    self._moment(row.at_us),
                    self._count(row.output),
                    self._number(row.pace),
                    self._difference(row.difference),
                )
                for row in strip.drawing.table
            ),
        )

    def steps(self, strip: BoardStrip) -> Sheet:
        """Each step: what stands there now, and what the week did there."""
        _ = self.words._
        whole = (_("waiting"), _("in work"), _("held"), _("over plan"))
        yields = (_("first-pass yield"), _("its interval from"), _("its interval to"))
        rework = (_("rework ratio"), _("its interval from"), _("its interval to"))
        return Sheet(
            code=_code(strip, "steps"),
            title=_("%(name)s, step by step", name=strip.strip.name),
            columns=(
                Column(name=_("step"), head=True),
                *(Column(name=name, kind=WHOLE) for name in whole),
                Column(name=_("longest there"), kind=NUMBER, unit="h"),
                Column(name=_("longest there, part")),
                *(Column(name=name, kind=SHARE, unit="%") for name in yields),
                Column(name=_("first visits, n"), kind=WHOLE),
                *(Column(name=name, kind=SHARE, unit="%") for name in rework),
                Column(name=_("visits ended, n"), kind=WHOLE),
                Column(name=_("touch"), kind=NUMBER, unit="h"),
                Column(name=_("queue"), kind=NUMBER, unit="h"),
            ),
            rows=tuple(self._step(row) for row in strip.rows),
        )

    def _step(self, row: StepRow) -> tuple[Cell, ...]:
        stands, week = row.standing, row.week
        oldest = stands.oldest_serial if stands else None
        held: Sequence[int | None] = (None,) * 4
        if stands:
            held = (stands.waiting, stands.in_work, stands.held, stands.over_plan)
        fpy = week.first_pass_yield if week else None
        return (
            Cell(f"{row.number} {row.name}"),
            *(Cell("") if count is None else self._count(count) for count in held),
            self._number(stands.oldest_h) if stands and oldest else Cell(""),
            Cell(oldest or ""),
            *self._proportion(fpy),
            *self._proportion(row.rework),
            self._number(week.touch_h_median if week else None),
            self._number(week.queue_h_median if week else None),
        )

    def hours(self, strip: BoardStrip) -> Sheet:
        """Each step by the clock and in working hours of its station group."""
        _ = self.words._
        names = (
            _("touch"), _("touch, worked"), _("touch, plan"), _("queue"), _("queue, worked"),
            _("queue, plan"), _("queue, plan worked"),
        )  # fmt: skip
        return Sheet(
            code=_code(strip, "hours"),
            title=_("%(name)s, hours by the clock and worked", name=strip.strip.name),
            columns=(
                Column(name=_("step"), head=True),
                *(Column(name=name, kind=NUMBER, unit="h") for name in names),
            ),
            rows=tuple(
                (
                    Cell(f"{row.number} {row.name}"),
                    *map(self._number, (
                        row.touch, row.touch_worked, row.touch_plan, row.queue,
                        row.queue_worked, row.queue_plan, row.queue_plan_worked,
                    )),
                )
                for row in strip.strip.hours
            ),
        )  # fmt: skip

    def yields(self, strip: BoardStrip) -> Sheet:
        """Rolled throughput and final yield."""
        _ = self.words._
        numbers = strip.strip.numbers
        missing = ", ".join(numbers.rolled_missing)
        note = _("without %(steps)s: no first visit", steps=missing) if missing else ""
        rolled = numbers.rolled_throughput_yield
        return Sheet(
            code=_code(strip, "yield"),
            title=_("Yield of %(name)s", name=strip.strip.name),
            columns=(
                Column(name=_("yield"), head=True),
                Column(name=_("value"), kind=SHARE, unit="%"),
                Column(name=_("its interval from"), kind=SHARE, unit="%"),
                Column(name=_("its interval to"), kind=SHARE, unit="%"),
                Column(name=_("n"), kind=WHOLE),
                Column(name=_("note")),
            ),
            rows=(
                (
                    Cell(_("rolled throughput")), self._share(rolled), *([Cell("")] * 3),
                    Cell(note if rolled is not None else ""),
                ),
                (Cell(_("final")), *self._proportion(numbers.final_yield), Cell("")),
            ),
        )  # fmt: skip

    def scrap(self, strip: BoardStrip) -> Sheet:
        """Scrapped parts by defect, where it was found and what caused it."""
        _ = self.words._
        unnamed = _("not named")
        return Sheet(
            code=_code(strip, "scrap"),
            title=_("Scrap of %(name)s", name=strip.strip.name),
            columns=(
                Column(name=_("defect"), head=True),
                Column(name=_("found at")),
                Column(name=_("caused at")),
                Column(name=_("parts"), kind=WHOLE),
            ),
            rows=tuple(
                (
                    Cell(reason.defect or unnamed),
                    Cell(reason.found_at or unnamed),
                    Cell(reason.caused_at or unnamed),
                    self._count(reason.count),
                )
                for reason in strip.strip.scrap
            ),
        )

    def cycle_time(self, strip: BoardStrip) -> Sheet:
        """Cycle times by the clock and worked."""
        _ = self.words._
        clock, worked = strip.strip.numbers.cycle_time_h, strip.strip.cycle_time_working_h
        rows = (
            (_("median"), clock.median, worked.median),
            (_("mean"), clock.mean, worked.mean),
            (_("90th percentile"), clock.p90, worked.p90),
        )
        return Sheet(
            code=_code(strip, "cycle time"),
            title=_cycle_title(strip, clock, self.words, self.show),
            columns=(
                Column(name=_("cycle time"), head=True),
                Column(name=_("by the clock"), kind=NUMBER, unit="h"),
                Column(name=_("worked"), kind=NUMBER, unit="h"),
            ),
            rows=(
                *((Cell(name), self._number(a), self._number(b)) for name, a, b in rows),
                (Cell(_("plan")), self._number(clock.plan), self._number(worked.plan)),
            ),
        )

    def account(self, strip: BoardStrip) -> Sheet:
        """Every part accounted for."""
        _ = self.words._
        a = strip.account
        counts = (
            a.opening, a.created, a.reopened, a.released, a.scrapped, a.used, a.closing,
        )  # fmt: skip
        names = (
            _("opening"), _("created"), _("reopened"), _("released"), _("scrapped"),
            _("used in test or making"), _("closing"),
        )  # fmt: skip
        return Sheet(
            code=_code(strip, "account"),
            title=_("Every part of %(name)s accounted for", name=strip.strip.name),
            columns=(
                Column(name=_("product"), head=True),
                *(Column(name=name, kind=WHOLE, unit=_("parts")) for name in names),
                Column(name=_("off by"), kind=WHOLE, unit=_("parts")),
            ),
            rows=((Cell(strip.strip.name), *map(self._count, counts), self._signed(a.off_by)),),
        )

    def cohort(self, strip: BoardStrip) -> Sheet:
        """The parts created in the week and what became of them."""
        _ = self.words._
        c = strip.strip.numbers.cohort
        names = (_("created"), _("released"), _("scrapped"), _("open"))
        return Sheet(
            code=_code(strip, "cohort"),
            title=_("%(name)s created in the week", name=strip.strip.name),
            columns=(
                Column(name=_("product"), head=True),
                *(Column(name=name, kind=WHOLE, unit=_("parts")) for name in names),
                Column(name=_("yield from"), kind=SHARE, unit="%"),
                Column(name=_("yield to"), kind=SHARE, unit="%"),
            ),
            rows=(
                (
                    Cell(strip.strip.name),
                    *map(self._count, (c.created, c.released, c.scrapped, c.open)),
                    self._share(strip.cohort_floor.value),
                    self._share(strip.cohort_ceiling.value),
                ),
            ),
        )

    def law(self, strip: BoardStrip) -> Sheet:
        """Little's law as a check of the record."""
        _ = self.words._
        law = strip.strip.law
        names = (_("parts in the cell on average"), _("rate times time"), _("exits a day"))
        return Sheet(
            code=_code(strip, "record"),
            title=_("Is the record of %(name)s whole?", name=strip.strip.name),
            columns=(
                Column(name=_("weeks"), kind=WHOLE, head=True),
                *(Column(name=name, kind=NUMBER) for name in names),
                Column(name=_("days each"), kind=NUMBER),
            ),
            rows=(
                (
                    self._count(law.weeks),
                    *map(
                        self._number,
                        (law.mean_wip, law.predicted_wip, law.exits_per_day, law.mean_days),
                    ),
                ),
            ),
        )

    def _moment(self, us: int) -> Cell:
        return Cell(f"{self.show.day(us, self.zone)} {self.show.clock(us, self.zone)}", us)

    def _count(self, value: float | None) -> Cell:
        return Cell(self.show.count(value), value)

    def _signed(self, value: int) -> Cell:
        return Cell(self.show.signed(value), value)

    def _number(self, value: float | None) -> Cell:
        return Cell(self.show.decimal(value), value)

    def _difference(self, value: float | None) -> Cell:
        shown = self.show.decimal(None) if value is None else self.show.signed(value, 1)
        return Cell(shown, value)

    def _share(self, value: float | None) -> Cell:
        return Cell(self.show.bare_percent(value), value)

    def _proportion(self, found: Proportion | None) -> tuple[Cell, ...]:
        """Value, both ends of its interval, n; dashes where nothing was counted."""
        if found is None or not found.n:
            return (*([Cell(self.show.decimal(None))] * 3), Cell(self.show.count(0), 0))
        values = (found.value, found.low, found.high)
        return (*map(self._share, values), self._count(found.n))


def make_book(
    board: Board, blocks: Mapping[str, PublishedBlock], words: Words, show: Figures
) -> Book:
    """The whole page as a book: what it asks and answers, what it was drawn from."""
    sheet = board.sheet
    return Book(
        page="week",
        question=words._("Will we make this week's number?"),
        answer="".join(piece.text for piece in board.answer),
        filters=_filters(board, words, show),
        cut_off=_cut_off(sheet, words, show),
        zone=sheet.zone,
        at_us=sheet.now_us,
        sheets=(
            *WeekSheets(board, words, show).all(),
            *(sheet for block in blocks.values() for sheet in block.sheets),
        ),
        reconciliation=tuple(
            account_line(strip.strip.name, strip.account, words, show) for strip in board.strips
        ),
    )


def _filters(board: Board, words: Words, show: Figures) -> tuple[tuple[str, str], ...]:
    _, sheet = words._, board.sheet
    span = _(
        "%(first)s to %(last)s",
        first=show.day(sheet.start_us, sheet.zone),
        last=show.date(sheet.end_us - 1, sheet.zone),
    )
    products = ", ".join(strip.strip.numbers.product for strip in board.strips)
    return (
        (_("Site"), sheet.site_name or sheet.site),
        (_("Week"), f"{sheet.week}, {span}"),
        (_("Products"), products),
    )


def _cut_off(sheet: WeekSheet, words: Words, show: Figures) -> str:
    drawn = cut_off(sheet, words, show)
    if sheet.last_entry_us is None:
        return drawn
    newest = show.full(sheet.last_entry_us, sheet.zone)
    return f"{drawn}, {words._('newest entry recorded %(moment)s', moment=newest)}"


def _cycle_title(strip: BoardStrip, clock: CycleTime, words: Words, show: Figures) -> str:
    return words._(
        "Cycle time of %(name)s, n %(n)s", name=strip.strip.name, n=show.count(clock.n)
    )


def _code(strip: BoardStrip, what: str) -> str:
    return f"{strip.strip.numbers.product} {what}"
