"""How past forecasts did, as it is drawn: intervals against what came, and the scores."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.calendar import HOUR_US, week_of
from ringwright.flow.forecast_board import chance_words
from ringwright.flow.forecasts import BackTest
from ringwright.kit.charts import Scale, whole_ticks
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.outlook.backtest import Tried

HEIGHT: Final = 220
_TRIED: Final = 20
"""Fewer forecasts than these are called a small n."""


@dataclass(frozen=True, slots=True)
class TriedMark:
    """One forecast: its interval, what came, whether the interval held it."""

    x: float
    width: float
    top: float
    height: float
    middle: float
    came_y: float
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedDrawing:
    """The picture: across in per cent, down in px."""

    marks: tuple[TriedMark, ...]
    ticks: tuple[tuple[float, int], ...]
    weeks: tuple[tuple[float, str], ...]
    target_y: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BackTestBoard:
    """All that the page shows."""

    found: BackTest
    answer: str
    small: bool
    drawing: TriedDrawing
    book: Book


def make_back_test_board(found: BackTest, words: Words, show: Figures) -> BackTestBoard:
    """The board of a back-test in one language."""
    said = _answer(found, words, show)
    lists = _Lists(words, show, found.drawn.zone)
    book = Book(
        page="backtest",
        question=words._("How did the forecast do in the past weeks?"),
        answer=said,
        filters=(
            (words._("Site"), found.drawn.site_name or found.drawn.site),
            (words._("Product"), found.product),
        ),
        cut_off=cut_off(found.drawn, words, show),
        zone=found.drawn.zone,
        at_us=found.drawn.now_us,
        sheets=(lists.scores(found), lists.tried(found)),
    )
    small = found.score.n < _TRIED
    return BackTestBoard(found=found, answer=said, small=small, drawing=draw(found), book=book)


def _answer(found: BackTest, words: Words, show: Figures) -> str:
    score = found.score
    if not score.n:
        return words._("Cannot say yet: the record is too short.")
    return words._(
        "%(name)s: the %(share)s interval held what came %(held)s out of %(n)s times.",
        name=found.name,
        share=show.percent(0.8, 0),
        held=show.count(score.covered),
        n=show.count(score.n),
    )


def draw(found: BackTest) -> TriedDrawing:
    """Every forecast in the order of time, a week's seven beside one another."""
    judged = [one.judged for one in found.tried]
    if not judged:
        return TriedDrawing(marks=(), ticks=(), weeks=(), target_y=None)
    edges = [float(edge) for one in judged for edge in (one.low, one.high, one.came)]
    edges += [] if found.target is None else [found.target]
    low, high = min(edges) - 1, max(edges) + 1
    down = Scale(low, high, float(HEIGHT), 0.0)
    across = Scale(0, len(judged), 0.0, 100.0)
    names = {one.start_us: place for place, one in reversed(list(enumerate(found.tried)))}
    return TriedDrawing(
        marks=tuple(
            TriedMark(
                x=across(place + 0.15),
                width=across(0.7),
                top=down(one.high + 0.5),
                height=round(down(one.low - 0.5) - down(one.high + 0.5), 2),
                middle=across(place + 0.5),
                came_y=down(one.came),
                held=one.low <= one.came <= one.high,
            )
            for place, one in enumerate(judged)
        ),
        ticks=tuple((down(tick), tick) for tick in whole_ticks(max(low, 0), high, 6)),
        weeks=tuple(
            (across(place), _week(us, found.drawn.zone)) for us, place in sorted(names.items())
        ),
        target_y=None if found.target is None else down(found.target),
    )


def _week(start_us: int, zone: str) -> str:
    """The name of the week that begins there; half a week on it is the same for any start."""
    return week_of(start_us + 84 * HOUR_US, zone)


@dataclass(frozen=True, slots=True)
class _Lists:
    """The sheets in one language."""

    words: Words
    show: Figures
    zone: str

    def scores(self, found: BackTest) -> Sheet:
        """The forecast beside the two naive ones."""
        _, score, show = self.words._, found.score, self.show
        rows = (
            (_("this forecast"), score.covered, score.brier),
            (_("as the last four weeks went"), None, score.brier_weeks),
            (_("at the pace so far"), None, score.brier_pace),
        )
        return Sheet(
            code="scores",
            title=_("Scores"),
            columns=(
                Column(name=_("Forecast"), head=True),
                Column(name=_("forecasts"), kind=WHOLE),
                Column(name=_("interval held what came"), kind=WHOLE),
                Column(name=_("Brier score"), kind=NUMBER),
            ),
            rows=tuple(
                (
                    Cell(name, name),
                    Cell(show.count(score.n), score.n),
                    Cell(show.count(covered), covered),
                    Cell(show.decimal(brier, 3), brier),
                )
                for name, covered, brier in rows
            ),
            note=_(
                "A Brier score is the smaller the better; the seven of a week hang together."
            ),
        )

    def tried(self, found: BackTest) -> Sheet:
        """Every forecast against what came."""
        _ = self.words._
        return Sheet(
            code="tried",
            title=_("Each day's forecast against what came"),
            columns=(
                Column(name=_("asked"), kind=MOMENT, head=True),
                Column(name=_("Week")),
                Column(name=_("out then"), kind=WHOLE),
                Column(name=_("80 %% interval from"), kind=WHOLE),
                Column(name=_("its interval to"), kind=WHOLE),
                Column(name=_("mean"), kind=NUMBER),
                Column(name=_("came"), kind=WHOLE),
                Column(name=_("held")),
                Column(name=_("probability of the target"), kind=SHARE),
                Column(name=_("as the last four weeks"), kind=SHARE),
                Column(name=_("at the pace"), kind=SHARE),
            ),
            rows=tuple(self._row(one) for one in found.tried),
        )

    def _row(self, one: Tried) -> tuple[Cell, ...]:
        show, judged = self.show, one.judged
        inside = judged.low <= judged.came <= judged.high
        held = self.words._("yes") if inside else self.words._("no")
        moment = f"{show.day(one.at_us, self.zone)} {show.clock(one.at_us, self.zone)}"
        week = _week(one.start_us, self.zone)
        return (
            Cell(moment, one.at_us),
            Cell(week, week),
            Cell(show.count(one.out), one.out),
            Cell(show.count(judged.low), judged.low),
            Cell(show.count(judged.high), judged.high),
            Cell(show.decimal(one.mean), one.mean),
            Cell(show.count(judged.came), judged.came),
            Cell(held, held),
            self._chance(judged.chance),
            self._chance(judged.chance_weeks),
            self._chance(judged.chance_pace),
        )

    def _chance(self, chance: float | None) -> Cell:
        told = "" if chance is None else chance_words(chance, self.words, self.show)
        return Cell(told, chance)
