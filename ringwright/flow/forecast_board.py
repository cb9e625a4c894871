"""The forecast as it is drawn: chances in words, rulers with twenty marks, and its sheets."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from ringwright.flow.forecast import ENOUGH_WEEKS, Forecast
from ringwright.flow.forecasts import ForecastSheet
from ringwright.kit.charts import Scale, whole_ticks
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.outlook.answer import Deciding

PartLink = Callable[[str], str]
BASE: Final = 100
"""How far down the ruler's line lies [px]."""
_MARK: Final = 8.0
_UNSURE: Final = (0.05, 0.95)
_MOST: Final = 5
FEW_WEEKS: Final = 8
"""Fewer past weeks than these are called a small n."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One of twenty outputs, each as likely as the next; solid at or above the target."""

    x: float
    y: float
    solid: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputRuler:
    """Where on the line of outputs things stand: across in per cent, down in px."""

    out_x: float | None
    """Where the parts end that are out; None where none is."""
    low_x: float
    width: float
    target_x: float | None
    marks: tuple[Mark, ...]
    ticks: tuple[tuple[float, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekAhead:
    """One product's week: what is said of it, its ruler, the parts that decide it."""

    found: Forecast
    this_week: bool
    chance: str
    interval: str
    needs_a_person: bool
    ruler: OutputRuler
    deciding: tuple[tuple[Deciding, str], ...]
    """Parts with their chance in words."""
    small: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastBoard:
    """All that the panel and the page show."""

    sheet: ForecastSheet
    weeks: tuple[WeekAhead, ...]
    answer: str
    book: Book


def make_forecast_board(
    sheet: ForecastSheet, words: Words, show: Figures, link: PartLink
) -> ForecastBoard:
    """The board of a sheet in one language; `link` leads to a part's page."""
    weeks = tuple(
        _ahead(found, found is pair[0], words, show) for pair in sheet.pairs for found in pair
    )
    said = _answer(weeks, words)
    lists = _Lists(words, show, link)
    book = Book(
        page="forecast",
        question=words._("What will this week and the next give?"),
        answer=said,
        filters=((words._("Site"), sheet.drawn.site_name or sheet.drawn.site),),
        cut_off=cut_off(sheet.drawn, words, show),
        zone=sheet.drawn.zone,
        at_us=sheet.drawn.now_us,
        sheets=(lists.weeks(weeks), lists.parts(weeks)),
    )
    return ForecastBoard(sheet=sheet, weeks=weeks, answer=said, book=book)


def chance_words(chance: float, words: Words, show: Figures) -> str:
    """A chance as "4 in 100"."""
    if 0 < chance < 0.01:
        return words._("under 1 in 100")
    if 0.99 < chance < 1:
        return words._("over 99 in 100")
    return words._("%(n)s in 100", n=show.count(round(chance * 100)))


def _ahead(found: Forecast, this_week: bool, words: Words, show: Figures) -> WeekAhead:
    chance, needs = words._("cannot say yet"), False
    if found.can_say and found.probability_of_target is not None:
        chance = words._(
            "%(chance)s for %(target)s or more",
            chance=chance_words(found.probability_of_target, words, show),
            target=show.count(found.target),
        )
        needs = this_week and found.probability_of_target < 0.5
    elif found.can_say:
        chance = words._("no target")
    return WeekAhead(
        found=found,
        this_week=this_week,
        chance=chance,
        interval=_interval(found, words, show),
        needs_a_person=needs,
        ruler=draw_ruler(found),
        deciding=_deciding(found, words, show) if this_week and found.can_say else (),
        small=found.past_weeks < FEW_WEEKS,
    )


def _interval(found: Forecast, words: Words, show: Figures) -> str:
    """Both ends of the interval and how much it holds; one figure where they are the same."""
    low, high, share = show.count(found.low_80), show.count(found.high_80), show.percent(0.8, 0)
    if low == high:
        return words._("%(parts)s (%(share)s)", parts=low, share=share)
    return words._("%(low)s to %(high)s (%(share)s)", low=low, high=high, share=share)


def _deciding(found: Forecast, words: Words, show: Figures) -> tuple[tuple[Deciding, str], ...]:
    low, high = _UNSURE
    unsure = [one for one in found.deciding if low <= one.chance <= high][:_MOST]
    return tuple((one, chance_words(one.chance, words, show)) for one in unsure)


def draw_ruler(found: Forecast) -> OutputRuler:
    """The line from a little below what is out to a little above target and interval."""
    target = found.target if found.target is not None else found.median
    out = found.released_so_far
    low = min(out or found.low_80, found.low_80, found.twentieths[0], target)
    high = max(found.high_80, found.twentieths[-1], target)
    pad = max((high - low) * 0.06, 1.0)
    scale = Scale(low - pad, high + pad, 0.0, 100.0)
    tallest = max(Counter(found.twentieths).values())
    step = min(_MARK, (BASE - 12) / tallest)
    seen: Counter[int] = Counter()
    marks = []
    for output in found.twentieths:
        seen[output] += 1
        y = round(BASE - 2 - step * seen[output], 2)
        solid = found.target is None or output >= found.target
        marks.append(Mark(scale(output), y, solid))
    left = scale(found.low_80 - 0.5)
    return OutputRuler(
        out_x=scale(out) if out else None,
        low_x=left,
        width=round(scale(found.high_80 + 0.5) - left, 2),
        target_x=None if found.target is None else scale(found.target),
        marks=tuple(marks),
        ticks=tuple((scale(tick), tick) for tick in whole_ticks(max(low, 0), high, 7)),
    )


def _answer(weeks: tuple[WeekAhead, ...], words: Words) -> str:
    """The least likely product of this week, in one sentence."""
    this = [one for one in weeks if one.this_week]
    if not this:
        return words._("Add a route card, and the week begins here.")
    known = [one for one in this if one.found.can_say]
    if not known:
        return words._(
            "Cannot say yet: %(n)s weeks of history needed before.", n=ENOUGH_WEEKS + 2
        )
    worst = min(
        known,
        key=lambda one: (
            2.0 if one.found.probability_of_target is None else one.found.probability_of_target
        ),
    )
    return words._(
        "%(name)s: %(interval)s out this week, %(chance)s.",
        name=worst.found.name, interval=worst.interval, chance=worst.chance,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Lists:
    """The sheets in one language."""

    words: Words
    show: Figures
    link: PartLink

    def weeks(self, weeks: tuple[WeekAhead, ...]) -> Sheet:
        """Each product and week with its figures."""
        _ = self.words._
        return Sheet(
            code="weeks",
            title=_("Forecast by week"),
            columns=(
                Column(name=_("Product"), head=True),
                Column(name=_("Week")),
                Column(name=_("released so far"), kind=WHOLE),
                Column(name=_("80 %% interval from"), kind=WHOLE),
                Column(name=_("its interval to"), kind=WHOLE),
                Column(name=_("median"), kind=WHOLE),
                Column(name=_("mean"), kind=NUMBER),
                Column(name=_("target"), kind=NUMBER),
                Column(name=_("probability of the target"), kind=SHARE),
                Column(name=_("of the mean, not created yet"), kind=NUMBER),
                Column(name=_("past weeks asked"), kind=WHOLE),
            ),
            rows=tuple(self._week(one) for one in weeks),
        )

    def _week(self, one: WeekAhead) -> tuple[Cell, ...]:
        found, show = one.found, self.show
        chance = found.probability_of_target
        told = "" if chance is None else chance_words(chance, self.words, show)
        return (
            Cell(found.product, found.product),
            Cell(found.week, found.week),
            self._count(found.released_so_far),
            self._count(found.low_80),
            self._count(found.high_80),
            self._count(found.median),
            Cell(show.decimal(found.mean), found.mean),
            self._count(found.target),
            Cell(told, chance),
            Cell(show.decimal(found.starts), found.starts),
            self._count(found.past_weeks),
        )

    def _count(self, value: float | None) -> Cell:
        return Cell(self.show.count(value), value)

    def parts(self, weeks: tuple[WeekAhead, ...]) -> Sheet:
        """The parts that decide this week."""
        _ = self.words._
        return Sheet(
            code="deciding",
            title=_("Parts that decide this week"),
            columns=(
                Column(name=_("Part"), head=True),
                Column(name=_("Product")),
                Column(name=_("Step"), kind=WHOLE),
                Column(name=_("chance to be out this week"), kind=SHARE),
                Column(name=_("Hold")),
            ),
            rows=tuple(
                (
                    Cell(part.serial, part.serial, self.link(part.serial)),
                    Cell(one.found.product, one.found.product),
                    self._count(part.step),
                    Cell(told, part.chance),
                    Cell(_("held") if part.held else "", _("held") if part.held else None),
                )
                for one in weeks
                for part, told in one.deciding
            ),
        )
