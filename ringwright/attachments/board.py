"""What the page of a radiograph shows: its steps, its figures, its histogram."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from ringwright.attachments.asked import Asked
from ringwright.imaging.distance import Distance, Point, distance_of
from ringwright.imaging.film import CALIBRATED, IMAGER, RESOLUTION, Film, Preset, Spacing
from ringwright.imaging.view import Counts, View, counts_of
from ringwright.kit.charts import Scale
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import NUMBER, WHOLE, Cell, Column, Sheet
from ringwright.kit.words import Words

BARS_HIGH: Final = 120.0
WIDER: Final = 1.25
STEP: Final = 0.1
"""A step of the level, as a share of the window."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A link that changes what is shown by one step."""

    name: str
    key: str
    values: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class HistogramBar:
    """One bar, across in per cent, down in CSS pixels."""

    x: float
    width: float
    y: float
    height: float
    told: str


@dataclass(frozen=True, kw_only=True)
class FilmBoard:
    """One radiograph as it is looked at."""

    film: Film
    asked: Asked
    shows: str
    """What it shows, as whoever attached it said; empty where the part is not told."""
    words: Words
    show: Figures

    @property
    def view(self) -> View:
        """The view, within the picture."""
        return self.asked.view

    @cached_property
    def counts(self) -> Counts:
        """The values of the part that is shown."""
        return counts_of(self.film, self.view)

    @cached_property
    def distance(self) -> Distance | None:
        """From A to B, where both are set."""
        a, b = self.asked.a, self.asked.b
        return None if a is None or b is None else distance_of(a, b, self.film.spacing)

    @property
    def answer(self) -> str:
        """The page in one sentence."""
        _ = self.words._
        if self.distance is not None:
            return _("From A to B: %(distance)s", distance=self.length())
        level, window = self.figure(self.view.level), self.figure(self.view.window)
        told = _("Level %(level)s, window %(window)s", level=level, window=window)
        whole = self.view.across == self.film.columns and self.view.down == self.film.rows
        return _("%(told)s, the whole picture", told=told) if whole else told

    def length(self) -> str:
        """The distance in words: mm with its doubt, or pixels where no spacing is known."""
        _, found = self.words._, self.distance
        if found is None:
            return NOTHING
        px = _("%(n)s px", n=self.show.decimal(found.px, 1))
        if found.mm is None or found.doubt_mm is None:
            return px
        places = 1 if found.doubt_mm >= 0.1 else 2 if found.doubt_mm >= 0.01 else 3
        return _(
            "%(mm)s ± %(doubt)s mm (%(px)s)",
            mm=self.show.decimal(found.mm, places),
            doubt=self.show.decimal(found.doubt_mm, places),
            px=px,
        )

    def figure(self, value: float) -> str:
        """A value, without decimals where it is large."""
        return self.show.decimal(value, 0 if abs(value) >= 100 or value == int(value) else 2)

    @property
    def presets(self) -> list[tuple[str, Preset]]:
        """The windows of the file, and two of ours, with a name each."""
        _ = self.words._
        own = [
            (_("File, window %(n)s", n=number), preset)
            for number, preset in enumerate(self.film.presets, start=1)
        ]
        return [
            *own,
            (_("All but 1 in 100 values"), self.film.usual),
            (_("Every value"), self.film.whole),
        ]

    @property
    def steps(self) -> list[Step]:
        """Steps of the window."""
        _, view, asked = self.words._, self.view, self.asked
        by = max(view.window * STEP, 1.0)
        # A higher level makes the picture darker, unless it is shown the other way round.
        up, down = _("Level up"), _("Level down")
        return [
            Step(name=up, key="ArrowUp", values=asked.shown(level=view.level + by)),
            Step(name=down, key="ArrowDown", values=asked.shown(level=view.level - by)),
            Step(
                name=_("Window wider"),
                key="ArrowRight",
                values=asked.shown(window=min(view.window * WIDER, 1e9)),
            ),
            Step(
                name=_("Window narrower"),
                key="ArrowLeft",
                values=asked.shown(window=max(view.window / WIDER, 1.0)),
            ),
            Step(
                name=_("As the file says") if view.turned else _("The other way round"),
                key="i",
                values=asked.shown(turned=not view.turned),
            ),
        ]

    @property
    def moves(self) -> list[Step]:
        """Steps of the part that is shown."""
        _, view, film = self.words._, self.view, self.film
        whole = self.asked.shown(left=0, top=0, across=film.columns, down=film.rows)
        return [
            Step(name=_("Closer"), key="+", values=self._to(view.zoomed(0.5))),
            Step(name=_("Further"), key="-", values=self._to(view.zoomed(2))),
            Step(name=_("Left"), key="h", values=self._to(view.moved(-0.5, 0))),
            Step(name=_("Right"), key="l", values=self._to(view.moved(0.5, 0))),
            Step(name=_("Up"), key="k", values=self._to(view.moved(0, -0.5))),
            Step(name=_("Down"), key="j", values=self._to(view.moved(0, 0.5))),
            Step(name=_("The whole picture"), key="0", values=whole),
        ]

    def _to(self, view: View) -> dict[str, Any]:
        return self.asked.showing(view.on(self.film))

    def place(self, point: Point) -> tuple[float, float] | None:
        """Where a point stands on the shown part, in per cent; None where it is beside it."""
        view = self.view
        x = 100 * (point.column + 0.5 - view.left) / view.across
        y = 100 * (point.row + 0.5 - view.top) / view.down
        return (round(x, 3), round(y, 3)) if 0 <= x <= 100 and 0 <= y <= 100 else None

    @property
    def marks(self) -> list[tuple[str, tuple[float, float]]]:
        """The points that stand on the shown part, with their letters."""
        both = (("A", self.asked.a), ("B", self.asked.b))
        found = [(letter, self.place(point)) for letter, point in both if point is not None]
        return [(letter, place) for letter, place in found if place is not None]

    @property
    def histogram(self) -> list[HistogramBar]:
        """The bars: how often each value stands in the shown part."""
        bars = self.counts.bars
        most = max(bar.pixels for bar in bars)
        high = Scale(0, most, 0, BARS_HIGH)
        wide = 100 / len(bars)
        return [
            HistogramBar(
                x=round(place * wide, 2),
                width=round(wide, 2),
                y=8 + BARS_HIGH - high(bar.pixels),
                height=high(bar.pixels),
                told=self.words._(
                    "%(low)s to %(high)s: %(n)s pixels",
                    low=self.figure(bar.low),
                    high=self.figure(bar.high),
                    n=self.show.count(bar.pixels),
                ),
            )
            for place, bar in enumerate(bars)
        ]

    @property
    def pixels(self) -> str:
        """How many pixels are shown, and what their values are."""
        counts = self.counts
        return self.words._(
            "%(n)s pixels, values from %(least)s to %(largest)s, mean %(mean)s",
            n=self.show.count(sum(bar.pixels for bar in counts.bars)),
            least=self.figure(counts.least),
            largest=self.figure(counts.largest),
            mean=self.figure(counts.mean),
        )

    @property
    def posts(self) -> list[float]:
        """Where the shown window begins and ends on the histogram, in per cent."""
        bars, view = self.counts.bars, self.view
        scale = Scale(bars[0].low, bars[-1].high, 0, 100)
        half = (view.window - 1) / 2
        ends = (scale(view.level - 0.5 - half), scale(view.level - 0.5 + half))
        return [min(100.0, max(0.0, end)) for end in ends]

    def spacing(self) -> str:
        """How large a pixel is, and where that is known from."""
        _, found = self.words._, self.film.spacing
        if found is None:
            return _("the file names none; distances are in pixels only")
        told = {
            IMAGER: _("the detector's own, from the file"),
            CALIBRATED: _("the file's pixel spacing"),
            RESOLUTION: _("from the file's resolution, which programs fill in unmeasured"),
        }[found.source]
        return _("%(size)s mm, %(told)s", size=self._pitch(found), told=told)

    def _pitch(self, spacing: Spacing) -> str:
        across = self.show.decimal(spacing.column_mm, 4)
        if spacing.row_mm == spacing.column_mm:
            return across
        down = self.show.decimal(spacing.row_mm, 4)
        return self.words._("%(across)s across, %(down)s down", across=across, down=down)

    def figures(self) -> Sheet:
        """Every figure of the page."""
        _ = self.words._
        rows = [*self._of_picture(), *self._of_points()]
        return Sheet(
            code="radiograph",
            title=_("What is shown"),
            columns=(Column(name=_("what"), head=True), Column(name=_("figure"))),
            rows=tuple((Cell(name), Cell(told)) for name, told in rows),
        )

    def table(self) -> Sheet:
        """The histogram in figures."""
        _ = self.words._
        return Sheet(
            code="histogram",
            title=_("How often each value stands in the shown part"),
            columns=(
                Column(name=_("from"), kind=NUMBER, head=True),
                Column(name=_("to"), kind=NUMBER),
                Column(name=_("pixels"), kind=WHOLE),
            ),
            rows=tuple(
                (
                    Cell(self.show.decimal(bar.low, 1), bar.low),
                    Cell(self.show.decimal(bar.high, 1), bar.high),
                    Cell(self.show.count(bar.pixels), bar.pixels),
                )
                for bar in self.counts.bars
            ),
        )

    def _of_picture(self) -> list[tuple[str, str]]:
        _, show, film, view, counts = (
            self.words._, self.show, self.film, self.view, self.counts,
        )  # fmt: skip
        return [
            (_("picture, pixels across and down"), self._by(film.columns, film.rows)),
            (_("bits of a value"), show.count(film.bits)),
            (_("shown part, pixels across and down"), self._by(view.across, view.down)),
            (_("pixels shown"), show.count(view.across * view.down)),
            (_("it begins at column and row"), f"{view.left}, {view.top}"),
            (_("level"), self.figure(view.level)),
            (_("window"), self.figure(view.window)),
            (_("least value in the part"), self.figure(counts.least)),
            (_("mean value in the part"), self.figure(counts.mean)),
            (_("largest value in the part"), self.figure(counts.largest)),
            (_("one pixel"), self.spacing()),
        ]

    def _by(self, columns: int, rows: int) -> str:
        told = {"columns": self.show.count(columns), "rows": self.show.count(rows)}
        return self.words._("%(columns)s by %(rows)s", **told)

    def _of_points(self) -> list[tuple[str, str]]:
        _ = self.words._
        both = (("A", self.asked.a), ("B", self.asked.b))
        rows = [
            (
                _("value at %(point)s", point=letter),
                _(
                    "%(value)s at column %(column)s, row %(row)s",
                    value=self.figure(self.film.value_at(point.row, point.column)),
                    column=point.column,
                    row=point.row,
                ),
            )
            for letter, point in both
            if point is not None
        ]
        if self.distance is not None:
            rows.append((_("from A to B"), self.length()))
        return rows
