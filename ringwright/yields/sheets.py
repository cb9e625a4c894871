"""The Yield page as sheets: the tables on it, and the files made from it."""

from __future__ import annotations

from collections.abc import Callable

from ringwright.flow.account_words import span_line
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.yields.answer import trend_word
from ringwright.yields.board import Board, Pareto, step_text
from ringwright.yields.model import Cohort, Group, Point, StepYield, Thread, Trend, YieldSheet
from ringwright.yields.rules import Share

Link = Callable[[str, str], str]
"""(dimension, key) to the address of the page narrowed to it; "" where there is none."""


class YieldSheets:
    """The sheets of the page in one language."""

    def __init__(self, board: Board, words: Words, show: Figures, link: Link) -> None:
        self.board, self.sheet = board, board.sheet
        self.words, self.show, self.link = words, show, link

    def all(self) -> tuple[Sheet, ...]:
        """Every sheet in the order of the page."""
        return (
            self.whole(),
            self.steps(),
            self.threads(),
            *(self.pareto(each) for each in self.board.paretos),
            self.trend(),
            self.groups(),
        )

    def whole(self) -> Sheet:
        """Rolled throughput, final and cohort yield of the window."""
        _, sheet = self.words._, self.sheet
        cohort, count = sheet.cohort, self.show.count
        rolled = (self._percent(sheet.rolled), Cell(""), Cell(""), Cell(""))
        rows = (
            (_("rolled throughput yield"), rolled),
            (_("final yield"), self._share(sheet.final)),
            (_("cohort, floor: released of created"), self._share(cohort.floor)),
            (_("cohort, ceiling: not scrapped of created"), self._share(cohort.ceiling)),
        )
        note = _(
            "created %(created)s: released %(released)s, scrapped %(scrapped)s, open %(open)s",
            created=count(cohort.created), released=count(cohort.released),
            scrapped=count(cohort.scrapped), open=count(cohort.open),
        )  # fmt: skip
        return Sheet(
            code="yields",
            title=_("Yields of the window"),
            note=note,
            columns=(Column(name=_("yield"), head=True), *self._share_columns("")),
            rows=tuple((Cell(name), *cells) for name, cells in rows),
        )

    def steps(self) -> Sheet:
        """Each step: its shares with interval and n, and how they stand to the weeks before."""
        _ = self.words._
        return Sheet(
            code="steps",
            title=_("Step by step"),
            columns=(
                Column(name=_("step"), head=True),
                *self._share_columns(_("first-pass yield")),
                Column(name=_("loads"), kind=WHOLE),
                Column(name=_("rolled"), kind=SHARE, unit="%"),
                *self._share_columns(_("rework ratio")),
                *self._share_columns(_("scrap ratio")),
                Column(name=_("fall-off ratio"), kind=SHARE, unit="%"),
                Column(name=_("8 weeks before"), kind=SHARE, unit="%"),
                Column(name=_("beside them")),
            ),
            rows=tuple(self._step(step) for step in self.sheet.steps),
        )

    def _step(self, step: StepYield) -> tuple[Cell, ...]:
        loads = step.first_pass.loads
        return (
            Cell(f"{step.number} {step.name}", link=self.link("step", str(step.number))),
            *self._share(step.first_pass),
            Cell("") if loads is None else self._count(loads),
            self._percent(step.rolled),
            *self._share(step.rework),
            *self._share(step.scrap),
            self._percent(step.fall_off),
            self._percent(step.trend.before.value),
            Cell(trend_word(step.trend.verdict, self.words)),
        )

    def threads(self) -> Sheet:
        """From the step that caused to the step that found."""
        _ = self.words._
        return Sheet(
            code="threads",
            title=_("From caused to found"),
            columns=(Column(name=_("caused at"), head=True), Column(name=_("found at")),
                     Column(name=_("parts"), kind=WHOLE)),
            rows=tuple(self._thread(thread) for thread in self.sheet.reasons.threads),
        )  # fmt: skip

    def _thread(self, thread: Thread) -> tuple[Cell, ...]:
        caused = step_text(self.sheet, thread.caused, self.words)
        found = step_text(self.sheet, thread.found, self.words)
        return (Cell(caused), Cell(found), self._count(thread.parts))

    def pareto(self, pareto: Pareto) -> Sheet:
        """One Pareto list with its running share."""
        _ = self.words._
        return Sheet(
            code=f"by {pareto.code}",
            title=pareto.title,
            columns=(Column(name=_("reason"), head=True), Column(name=_("parts"), kind=WHOLE),
                     Column(name=_("running total"), kind=SHARE, unit="%")),
            rows=tuple((Cell(bar.name), self._count(bar.parts), self._percent(bar.so_far))
                       for bar in pareto.bars),
        )  # fmt: skip

    def trend(self) -> Sheet:
        """What the chart shows, week by week."""
        _ = self.words._
        step = self.board.chart_step
        trend = step.trend if step else self.sheet.final_trend
        return Sheet(
            code="weeks",
            title=_("%(name)s, week by week", name=self.board.chart_name),
            note=self._centre(trend),
            columns=(
                Column(name=_("week"), head=True),
                *self._share_columns(""),
                Column(name=_("loads"), kind=WHOLE),
                Column(name=_("lower limit"), kind=SHARE, unit="%"),
                Column(name=_("upper limit"), kind=SHARE, unit="%"),
                Column(name=_("beside the limits")),
            ),
            rows=tuple(self._point(point) for point in trend.points),
        )

    def _centre(self, trend: Trend) -> str:
        _ = self.words._
        value = self.show.percent(trend.centre.value)
        if trend.from_before:
            return _("limits round the 8 weeks before, %(value)s", value=value)
        return _("limits round all weeks shown, %(value)s", value=value)

    def _point(self, point: Point) -> tuple[Cell, ...]:
        _ = self.words._
        word = _("outside") if point.outside else _("small n") if point.share.small else ""
        if not word and point.share.n:
            word = _("inside")
        loads = point.share.loads
        return (
            Cell(point.week),
            *self._share(point.share),
            Cell("") if not loads else self._count(loads),
            self._percent(point.lower),
            self._percent(point.upper),
            Cell(word),
        )

    def groups(self) -> Sheet:
        """The groups of the chosen dimension."""
        _ = self.words._
        # Where no group is at one step only, its first-pass yield has nothing to stand for.
        first: tuple[Column, ...] = ()
        if self._has_steps:
            first = (Column(name=_("at step")), *self._share_columns(_("first-pass yield")))
        return Sheet(
            code=f"groups by {self.sheet.by}",
            title=_("Told apart by %(dimension)s", dimension=_(self.sheet.by)),
            columns=(
                Column(name=_(self.sheet.by), head=True),
                Column(name=_("first visits"), kind=WHOLE),
                *first,
                Column(name=_("rolled"), kind=SHARE, unit="%"),
                Column(name=_("steps in it"), kind=WHOLE),
                *self._share_columns(_("final yield")),
                *self._share_columns(_("rework ratio")),
                *(self._cohort_columns() if self._has_cohorts else ()),
            ),
            rows=tuple(self._group(group) for group in self.sheet.groups),
        )

    @property
    def _has_steps(self) -> bool:
        return any(group.step is not None for group in self.sheet.groups)

    def _group(self, group: Group) -> tuple[Cell, ...]:
        key = group.key or self.words._("not recorded")
        first: tuple[Cell, ...] = ()
        if self._has_steps:
            there = group.step is not None
            step = step_text(self.sheet, group.step, self.words) if there else ""
            first = (Cell(step), *(self._share(group.first_pass) if there else (Cell(""),) * 4))
        return (
            Cell(key, link=self.link(self.sheet.by, group.key)),
            self._count(group.first_visits),
            *first,
            self._percent(group.rolled),
            self._count(group.steps),
            *self._share(group.final),
            *self._share(group.rework),
            *(self._cohort(group.cohort) if self._has_cohorts else ()),
        )

    @property
    def _has_cohorts(self) -> bool:
        return any(group.cohort is not None for group in self.sheet.groups)

    def _cohort_columns(self) -> tuple[Column, ...]:
        _ = self.words._
        return (
            Column(name=_("created"), kind=WHOLE),
            Column(name=_("of these open"), kind=WHOLE),
            Column(name=_("cohort floor"), kind=SHARE, unit="%"),
            Column(name=_("cohort ceiling"), kind=SHARE, unit="%"),
        )

    def _cohort(self, cohort: Cohort | None) -> tuple[Cell, ...]:
        if cohort is None:
            return (Cell(""),) * 4
        return (
            self._count(cohort.created),
            self._count(cohort.open),
            self._percent(cohort.floor.value),
            self._percent(cohort.ceiling.value),
        )

    def _share_columns(self, name: str) -> tuple[Column, ...]:
        _ = self.words._
        return (
            Column(name=name or _("share"), kind=SHARE, unit="%"),
            Column(name=_("from"), kind=SHARE, unit="%"),
            Column(name=_("to"), kind=SHARE, unit="%"),
            Column(name=_("n"), kind=WHOLE),
        )

    def _share(self, found: Share) -> tuple[Cell, ...]:
        value, low, high = (self._percent(v) for v in (found.value, found.low, found.high))
        return (value, low, high, self._count(found.n))

    def _percent(self, value: float | None) -> Cell:
        return Cell(self.show.bare_percent(value), value)

    def _count(self, value: int) -> Cell:
        return Cell(self.show.count(value), value)


def make_book(board: Board, words: Words, show: Figures, link: Link) -> Book:
    """What the page shows, as a book."""
    sheet, _ = board.sheet, words._
    sheets = YieldSheets(board, words, show, link)
    return Book(
        page="yield",
        question=_("What did each step yield, and where is scrap made?"),
        answer="".join(piece.text for piece in board.answer),
        filters=filters_of(sheet, words),
        cut_off=cut_off(sheet, words, show),
        zone=sheet.zone,
        at_us=sheet.now_us,
        sheets=sheets.all(),
        reconciliation=_accounts(board, words, show),
    )  # fmt: skip


def product_line(sheet: YieldSheet, words: Words, show: Figures) -> str:
    """The account of the whole product over these weeks, whatever narrows the rest."""
    of, span = (
        (sheet.product, sheet.zone),
        (sheet.start_us, min(sheet.end_us, sheet.now_us + 1)),
    )
    return span_line(of, span, sheet.account, (words, show))


def filters_of(sheet: YieldSheet, words: Words) -> tuple[tuple[str, str], ...]:
    """(word, value) of all that narrows the answer."""
    _, q = words._, sheet.question
    chosen = (
        (_("product"), sheet.product),
        (_("weeks"), _("%(first)s to %(last)s", first=sheet.weeks[0], last=sheet.weeks[-1])),
        (_("step"), "" if q.step is None else str(q.step)),
        (_("lot"), q.lot or ""), (_("station"), q.station or ""), (_("shift"), q.shift or ""),
        (_("revision"), q.revision or ""),
        (_("without load"), sheet.left_out.code if sheet.left_out else ""),
        (_("reasons of"), _(sheet.reasons.what)),
    )  # fmt: skip
    return tuple(pair for pair in chosen if pair[1])


def _accounts(board: Board, words: Words, show: Figures) -> tuple[str, ...]:
    """Both columns of the threads add up to what was scrapped; the cohort adds up too."""
    sheet, _, threads = board.sheet, words._, board.threads
    caused, found = (sum(end.parts for end in side) for side in (threads.caused, threads.found))
    cohort = sheet.cohort
    return (
        _("%(what)s: caused %(caused)s = found %(found)s = by defect %(total)s",
          what=_(sheet.reasons.what), caused=show.count(caused), found=show.count(found),
          total=show.count(sheet.reasons.total)),
        _("%(created)s created = %(released)s released + %(scrapped)s scrapped + %(open)s open",
          created=show.count(cohort.created), released=show.count(cohort.released),
          scrapped=show.count(cohort.scrapped), open=show.count(cohort.open)),
        product_line(sheet, words, show),
    )  # fmt: skip
