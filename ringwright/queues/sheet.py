"""Queues as sheets and as a picture: what the page, its files and nothing else shows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from ringwright.core.calendar import HOUR_US
from ringwright.core.glossary import N_
from ringwright.flow.account_words import span_line
from ringwright.kit.charts import Scale
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.queueing.line import AS_PRACTICAL, AS_WORST, Line
from ringwright.queues.model import Group, ProductLine, QueuesSheet, Waiting

WEEK_H: Final = 168.0
SHOWN: Final = 15
"""Waiting parts of one group on the page; the file has them all."""
POINTS: Final = 80
TALL: Final = 180.0
STANDING: Final = {
    AS_PRACTICAL: N_("between the best and the practical worst case"),
    AS_WORST: N_("between the practical worst and the worst case"),
}
Link = Callable[..., str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Throughput over WIP: three curves as points of a picture 100 wide, and where we are."""

    best: str
    practical: str
    worst: str
    x: float
    y: float
    most_wip: float
    most_rate: float


def picture(one: ProductLine) -> Picture | None:
    """The curves of one product; None where its line is not known or nothing is in it."""
    if one.line is None or one.wip < 1:
        return None
    line = one.line
    most_wip = max(2.0 * line.critical_wip, 1.25 * one.wip, 4.0)
    most_rate = 1.15 * max(line.rate_per_h, one.rate_per_h)
    across, down = Scale(1.0, most_wip, 2.0, 98.0), Scale(0.0, most_rate, TALL, 6.0)
    wips = [1 + (most_wip - 1) * place / (POINTS - 1) for place in range(POINTS)]

    def curve(case: Callable[[float], float]) -> str:
        return " ".join(f"{across(wip)},{down(case(wip))}" for wip in wips)

    return Picture(
        best=curve(lambda wip: line.best(wip).rate_per_h),
        practical=curve(lambda wip: line.practical_worst(wip).rate_per_h),
        worst=curve(lambda wip: line.worst(wip).rate_per_h),
        x=across(one.wip),
        y=down(one.rate_per_h),
        most_wip=most_wip,
        most_rate=most_rate * WEEK_H,
    )


class QueueLists:
    """The sheets in one language."""

    def __init__(self, words: Words, show: Figures, link: Link) -> None:
        self.words, self.show, self.link = words, show, link

    def answer(self, sheet: QueuesSheet) -> str:
        """The page's one line: the neck, what waits there, and since when the longest."""
        _, show, neck = self.words._, self.show, sheet.neck
        if neck is None:
            return _("No station was used in these weeks")
        if not neck.waiting:
            return _(
                "%(group)s is the neck, %(use)s in use; nothing waits there now",
                group=neck.code, use=show.percent(neck.hours.use, 0),
            )  # fmt: skip
        return _(
            "%(group)s is the neck, %(use)s in use; %(n)s wait there, the longest %(hours)s",
            group=neck.code,
            use=show.percent(neck.hours.use, 0),
            n=show.count(len(neck.waiting)),
            hours=self._age(neck.waiting[0].since_us, sheet.drawn.now_us),
        )

    def _age(self, since_us: int, now_us: int) -> str:
        return self.show.hours((now_us - since_us) / HOUR_US)

    def groups(self, sheet: QueuesSheet) -> Sheet:
        """Every station group: what waits, and where its hours went."""
        _ = self.words._
        hours = (
            _("in use"), _("idle though parts waited"), _("starved"), _("shut"),
        )  # fmt: skip
        return Sheet(
            code="groups",
            title=_("Station groups, the most used first"),
            columns=(
                Column(name=_("station group"), head=True),
                Column(name=_("use"), kind=NUMBER, unit="%"),
                Column(name=_("waiting now"), kind=WHOLE),
                Column(name=_("longest"), kind=NUMBER, unit="h"),
                Column(name=_("queue, mean"), kind=NUMBER),
                Column(name=_("wait, mean"), kind=NUMBER, unit="h"),
                *(Column(name=name, kind=NUMBER, unit="h") for name in hours),
                Column(name=_("blocked")),
            ),
            rows=tuple(self._group(one, sheet) for one in sheet.groups),
        )

    def _group(self, one: Group, sheet: QueuesSheet) -> tuple[Cell, ...]:
        _, show, spent = self.words._, self.show, one.hours
        first = one.waiting[0] if one.waiting else None
        oldest = (sheet.drawn.now_us - first.since_us) / HOUR_US if first else None
        wait = None if one.mean_wait_us is None else one.mean_wait_us / HOUR_US
        share = None if spent.use is None else 100 * spent.use
        return (
            Cell(one.code),
            Cell(show.decimal(share, 0), share),
            Cell(show.count(len(one.waiting)), len(one.waiting)),
            Cell(show.decimal(oldest), oldest),
            Cell(show.decimal(one.mean_queue), one.mean_queue),
            Cell(show.decimal(wait), wait),
            *(
                Cell(show.decimal(us / HOUR_US), us / HOUR_US)
                for us in (spent.in_use_us, spent.passed_by_us, spent.starved_us, spent.shut_us)
            ),
            Cell(_("not known")),
        )

    def waiting(self, sheet: QueuesSheet, group: Group, most: int | None = None) -> Sheet:
        """What waits at a group now, the longest first."""
        _ = self.words._
        return Sheet(
            code=f"waiting-{group.code}",
            title=_("Waiting at %(group)s, the longest first", group=group.code),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("product")),
                Column(name=_("step")),
                Column(name=_("waits"), kind=NUMBER, unit="h"),
                Column(name=_("since"), kind=MOMENT),
                Column(name=_("hold")),
            ),
            rows=tuple(self._waiting(part, sheet) for part in group.waiting[:most]),
            of=len(group.waiting),
        )

    def _waiting(self, part: Waiting, sheet: QueuesSheet) -> tuple[Cell, ...]:
        drawn = sheet.drawn
        age_h = (drawn.now_us - part.since_us) / HOUR_US
        where = self.link("floor.parts", product=part.product, step=part.step)
        return (
            Cell(part.serial, part.serial, self.link("trace.part", serial=part.serial)),
            Cell(part.product),
            Cell(f"{part.step} {part.step_name}", link=where),
            Cell(self.show.decimal(age_h), age_h),
            Cell(self.show.moment(part.since_us, drawn.zone, drawn.now_us), part.since_us),
            Cell(part.hold or NOTHING, part.hold),
        )

    def lines(self, sheet: QueuesSheet) -> Sheet:
        """Each product's line against the bounds of factory physics."""
        _ = self.words._
        week = _("parts a week")
        return Sheet(
            code="lines",
            title=_("Each product's line against its bounds"),
            columns=(
                Column(name=_("product"), head=True),
                Column(name=_("its neck")),
                Column(name=_("WIP"), kind=NUMBER),
                Column(name=_("critical WIP"), kind=NUMBER),
                Column(name=_("out"), kind=NUMBER, unit=week),
                Column(name=_("bottleneck rate"), kind=NUMBER, unit=week),
                Column(name=_("practical worst"), kind=NUMBER, unit=week),
                Column(name=_("worst"), kind=NUMBER, unit=week),
                Column(name=_("in the cell"), kind=NUMBER, unit="h"),
                Column(name=_("raw process time"), kind=NUMBER, unit="h"),
                Column(name=_("stands")),
            ),
            rows=tuple(map(self._line, sheet.lines)),
        )

    def _line(self, one: ProductLine) -> tuple[Cell, ...]:
        line, wip = one.line, max(one.wip, 1.0)
        out = one.rate_per_h * WEEK_H
        figures = (
            one.wip,
            line.critical_wip if line else None,
            out,
            line.rate_per_h * WEEK_H if line else None,
            line.practical_worst(wip).rate_per_h * WEEK_H if line else None,
            line.worst(wip).rate_per_h * WEEK_H if line else None,
            one.cycle_h,
            line.raw_h if line else None,
        )
        return (
            Cell(one.product),
            Cell(one.neck or NOTHING, one.neck),
            *(Cell(self.show.decimal(figure), figure) for figure in figures),
            Cell(self.standing(line, one)),
        )

    def standing(self, line: Line | None, one: ProductLine) -> str:
        """Where a product stands between its bounds, in words."""
        if line is None or one.wip < 1:
            return self.words._("too little is known")
        return self.words._(STANDING[line.standing(one.wip, one.rate_per_h)])

    def book(self, sheet: QueuesSheet) -> Book:
        """The page as a book, with everything that waits."""
        _, drawn = self.words._, sheet.drawn
        queues = (self.waiting(sheet, group) for group in sheet.groups if group.waiting)
        return Book(
            page="queues",
            question=_("Where is the neck, and what waits there?"),
            answer=self.answer(sheet),
            filters=(
                (_("Site"), drawn.site_name or drawn.site),
                (_("weeks"), self.show.count(sheet.weeks)),
            ),
            cut_off=cut_off(drawn, self.words, self.show),
            zone=drawn.zone,
            at_us=drawn.now_us,
            sheets=(self.groups(sheet), self.lines(sheet), *queues),
            reconciliation=(self.accounted(sheet), *self._products(sheet)),
        )

    def _products(self, sheet: QueuesSheet) -> tuple[str, ...]:
        """What became of each product's parts over the weeks."""
        zone, manner = sheet.drawn.zone, (self.words, self.show)
        span = (sheet.from_us, sheet.drawn.now_us + 1)
        return tuple(
            span_line((product, zone), span, account, manner)
            for product, account in sheet.accounts
        )

    def accounted(self, sheet: QueuesSheet) -> str:
        """Every part that waits now: at which groups, and how many of them are on hold."""
        _, count = self.words._, self.show.count
        waiting = [part for group in sheet.groups for part in group.waiting]
        held = sum(part.hold is not None for part in waiting)
        each = " + ".join(count(len(one.waiting)) for one in sheet.groups if one.waiting)
        return _(
            "%(all)s waiting = by station group %(each)s = %(free)s free + %(held)s on hold",
            all=count(len(waiting)),
            each=each or count(0),
            free=count(len(waiting) - held),
            held=count(held),
        )
