"""What a control chart says, in words, and its figures as sheets. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ringwright.core.glossary import N_
from ringwright.flow.loads import load_name
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, NUMBER, SHARE, TEXT, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.measure.signals import BEYOND, FOUR_OF_FIVE, SIDE, SIX_RISING, TWO_OF_THREE
from ringwright.yields.charting import SHARES, SINGLES, Control, Dot
from ringwright.yields.model import CYCLE, ELAPSED, QUEUE, TOUCH, YieldSheet
from ringwright.yields.parts import Behind
from ringwright.yields.sheets import filters_of, product_line

RULE_WORDS = {
    BEYOND: N_("past a limit"),
    SIDE: N_("nine in a row on one side"),
    SIX_RISING: N_("six in a row that rise or fall"),
    TWO_OF_THREE: N_("two of three past two thirds of the limit"),
    FOUR_OF_FIVE: N_("four of five past a third of the limit"),
}
RULE_SOURCES = {
    BEYOND: N_("Shewhart's limits; NIST/SEMATECH e-Handbook, 6.3.2"),
    SIDE: N_("Nelson 1984, test 2"),
    SIX_RISING: N_("Nelson 1984, test 3"),
    TWO_OF_THREE: N_("Nelson 1984, test 5"),
    FOUR_OF_FIVE: N_("Nelson 1984, test 6"),
}
SHARE_VIEWS = ((SHARES, N_("Shares by week")), (SINGLES, N_("Single values")))
VIEWS = {
    False: (*SHARE_VIEWS, (TOUCH, N_("Hours in work")), (QUEUE, N_("Hours waiting")),
            (ELAPSED, N_("Begin to end")), (CYCLE, N_("Waiting to end"))),
    True: (*SHARE_VIEWS, (CYCLE, N_("Creation to release"))),
}  # fmt: skip
"""Charts to choose from: of a step, and (True) without one."""
BECAME = {
    "pass": N_("passed"), "rework": N_("reworked"), "repair": N_("repaired"),
    "concession": N_("let through by a concession"), "scrap": N_("scrapped"),
    "scrapped": N_("scrapped"), "released": N_("released"),
}  # fmt: skip
Link = Callable[[Dot], str]


class ChartWords:
    """The words and sheets of one chart in one language."""

    def __init__(self, sheet: YieldSheet, control: Control, words: Words, show: Figures
                 ) -> None:  # fmt: skip
        self.sheet, self.control, self.words, self.show = sheet, control, words, show

    @property
    def name(self) -> str:
        """What the chart is of."""
        step, control = self.sheet.step(self.control.step), self.control
        if control.in_hours:
            what = self.words._(dict(VIEWS[step is None])[control.kind]).lower()
            return f"{step.name if step else self.sheet.product}, {what}"
        return step.name if step else self.words._("Final yield")

    @property
    def title(self) -> str:
        """What the picture shows, and what a point of it is."""
        _, control, name = self.words._, self.control, self.name
        if control.of_loads:
            return _("%(name)s, load by load", name=name)
        if not control.in_hours:
            return _("%(name)s, week by week", name=name)
        if control.step is None:
            return _("%(name)s, part by part", name=name)
        return _("%(name)s, visit by visit", name=name)

    def to_read(self) -> str:
        """How the picture is read."""
        _ = self.words._
        if self.control.in_hours:
            return _("hours of the clock, a dot a point in the order of their ends; dashes are "
                     "the limits, three standard deviations round the mean; left of the dotted "
                     "line lie the weeks before. A point that signals has a ring, the latest "
                     "a number.")  # fmt: skip
        return _(
            "share in per cent, a dot a point, hollow where n is small; dashes are the limits, "
            "three standard errors round the middle line; left of the dotted line lie the "
            "weeks before. A point that signals has a ring and a number."
        )

    def value(self, value: float | None) -> str:
        """Where a point stands, with its unit."""
        if self.control.in_hours:
            return self.show.hours(value, 2)
        return self.show.percent(value)

    def more_signals(self) -> str:
        """How many signals are told of how many; "" where all are."""
        named, every = len(self.control.named), len(self.control.signals)
        if named == every:
            return ""
        return self.words._(
            "The latest %(named)s of %(every)s signals; the table has them all.",
            named=self.show.count(named), every=self.show.count(every),
        )  # fmt: skip

    def question(self) -> str:
        """What the page asks."""
        _ = self.words._
        if self.control.in_hours:
            return _("Are the hours changing?")
        return _("Is the yield changing?")

    def answer(self) -> str:
        """The sentence at the head of the page."""
        _, signals, control = self.words._, self.control.signals, self.control
        if control.false_a_week is None:
            return _("%(name)s: cannot say yet, there are no limits.", name=self.name)
        if not signals:
            return _("%(name)s: no point signals a change.", name=self.name)
        return self.words.ngettext(
            "%(name)s: one point signals a change, %(last)s.",
            "%(name)s: %(n)s points signal a change, the last %(last)s.",
            len(signals), name=self.name, last=self.point(signals[-1]),
        )  # fmt: skip

    def no_limits(self) -> str:
        """Why there are no limits, or ""."""
        _, control = self.words._, self.control
        if control.false_a_week is not None:
            return ""
        if control.kind != SHARES:
            return _("Fewer than two points that count, or all alike: no limits.")
        return _("All weeks are of a small n, or all parts were alike: no limits. "
                 "Single values may say more.")  # fmt: skip

    def point(self, dot: Dot) -> str:
        """A point as a person names it."""
        if dot.begin_us is None:
            return dot.name
        return load_name(dot.station, dot.begin_us, self.sheet.zone, self.show)

    def under(self, dot: Dot) -> str:
        """What stands under a point: the week's number, or the load's day."""
        if dot.part:
            return ""
        if dot.begin_us is None:
            return str(int(dot.name[-2:]))
        return self.show.day(dot.begin_us, self.sheet.zone)

    def why(self, dot: Dot) -> str:
        """Which rules a point breaks."""
        return ", ".join(self.words._(RULE_WORDS[rule]) for rule in dot.broken)

    def false_alarms(self) -> tuple[str, ...]:
        """How many signals are to be expected in a week while nothing changes."""
        _, control = self.words._, self.control
        told = []
        if control.false_a_week is not None:
            told.append(_("By chance alone this chart signals %(often)s.",
                          often=self.often(control.false_a_week)))  # fmt: skip
        if control.charts > 1 and not control.in_hours:
            told.append(
                _("Who watches all %(charts)s p-charts of the product sees a false signal "
                  "%(often)s.", charts=self.show.count(control.charts),
                  often=self.often(control.false_all))
            )  # fmt: skip
        return tuple(told)

    def often(self, a_week: float) -> str:
        """So many a week, and what that means in weeks."""
        if a_week <= 0:
            return self.words._("never")
        weeks = 1 / a_week
        told = self.show.decimal(weeks, 0 if weeks >= 10 else 1)
        return self.words._(
            "%(n)s times a week, about once in %(weeks)s weeks",
            n=self.show.standard(a_week), weeks=told,
        )  # fmt: skip

    def rests_on(self) -> str:
        """What the limits count, and round what they stand."""
        _, control = self.words._, self.control
        if control.in_hours:
            return self._hours_rest_on()
        if control.of_loads:
            return _("Each point is a load; limits from the moving ranges between loads "
                     "(NIST/SEMATECH e-Handbook, 6.3.2.2). Most loads pass whole, so the share "
                     "of a load is far from a normal value: only the first rule is looked at, "
                     "and the false signals are a rough figure.")  # fmt: skip
        if control.kind == SINGLES:
            return _("Each point is a week as it is; limits from the moving ranges between "
                     "weeks (NIST/SEMATECH e-Handbook, 6.3.2.2), so a usual spread from week "
                     "to week is no signal.")  # fmt: skip
        counted = (
            _("Limits count loads: parts of one load fail together.")
            if control.in_loads
            else _("Limits count parts, each at its week's own n.")
        )
        around = (
            _("They stand round the 8 weeks before.")
            if control.from_before
            else _("They stand round all weeks shown, since those before are too few.")
        )
        return f"{counted} {around}"

    def _hours_rest_on(self) -> str:
        _ = self.words._
        each = _("Each point is one visit.")
        if self.control.of_loads:
            each = _("Each point is a load, the mean of its visits.")
        elif self.control.step is None:
            each = _("Each point is a released part.")
        return each + " " + _(
            "Limits from the moving ranges between points (NIST/SEMATECH e-Handbook, 6.3.2.2). "
            "Hours are rarely normal, most are short and some long: more lie past the upper "
            "limit than the figure of false signals, which is of normal values, lets expect. "
            "What goes out together took alike long, which makes the limits narrow besides."
        )  # fmt: skip

    def points(self, link: Link, most: int | None = None) -> Sheet:
        """Every point with its limits and what it says; of more than `most` the latest."""
        _, control = self.words._, self.control
        first = _("load") if control.of_loads else _("part") if control.in_hours else _("week")
        kind, unit = (NUMBER, "h") if control.in_hours else (SHARE, "%")
        what = _("hours") if control.in_hours else _("share")
        dots = control.dots if most is None else control.dots[-most:]
        cut = len(dots) < len(control.dots)
        return Sheet(
            code="points",
            title=_("%(name)s, point by point", name=self.name),
            columns=(
                Column(name=first, head=True), Column(name=what, kind=kind, unit=unit),
                Column(name=_("n"), kind=WHOLE), Column(name=_("loads"), kind=WHOLE),
                Column(name=_("lower"), kind=kind, unit=unit),
                Column(name=_("upper"), kind=kind, unit=unit),
                Column(name=_("in the window")), Column(name=_("it says")),
            ),
            rows=tuple(self._point(dot, link) for dot in (reversed(dots) if cut else dots)),
            of=len(control.dots) if cut else None,
            note=_("the latest ones, newest first; the files have all") if cut else "",
        )  # fmt: skip

    def _point(self, dot: Dot, link: Link) -> tuple[Cell, ...]:
        _ = self.words._
        word = self.why(dot)
        if not word and dot.n:
            limits = dot.lower is not None
            word = _("small n") if dot.small else _("inside") if limits else _("no limits")
        loads = dot.loads
        return (
            Cell(self.point(dot), link=link(dot) if dot.n else ""),
            self._figure(dot.value), Cell(self.show.count(dot.n), dot.n),
            Cell("") if loads is None else Cell(self.show.count(loads), loads),
            self._figure(dot.lower), self._figure(dot.upper),
            Cell(_("yes") if dot.in_window else _("no")), Cell(word),
        )  # fmt: skip

    def _figure(self, value: float | None) -> Cell:
        if self.control.in_hours:
            return Cell(self.show.decimal(value, 2), value)
        return Cell(self.show.bare_percent(value), value)

    def behind(self, point: str, parts: Sequence[Behind], link: Callable[[str], str]) -> Sheet:
        """The parts behind a point."""
        _, zone = self.words._, self.sheet.zone
        return Sheet(
            code="parts",
            title=_("%(name)s at %(point)s, part by part", name=self.name, point=point),
            columns=(
                Column(name=_("part"), kind=TEXT, head=True),
                Column(name=_("what became of it")),
                Column(name=_("defect")), Column(name=_("station")), Column(name=_("run")),
                Column(name=_("when"), kind=MOMENT),
            ),
            rows=tuple(
                (
                    Cell(part.serial, link=link(part.serial)), Cell(self._became(part.outcome)),
                    Cell(part.defect), Cell(part.station), Cell(part.run),
                    Cell(self.show.moment(part.at_us, zone, self.sheet.now_us), part.at_us),
                )
                for part in parts
            ),
        )  # fmt: skip

    def _became(self, outcome: str) -> str:
        return self.words._(BECAME[outcome]) if outcome in BECAME else outcome

    def book(self, sheets: tuple[Sheet, ...]) -> Book:
        """The page as a file."""
        _, control = self.words._, self.control
        points = sum(bool(dot.n) for dot in control.dots)
        inside = points - len(control.signals)
        rules = "; ".join(f"{_(RULE_WORDS[r])} ({_(RULE_SOURCES[r])})" for r in control.rules)
        return Book(
            page="yield chart", question=self.question(), answer=self.answer(),
            filters=(*filters_of(self.sheet, self.words), (_("chart"), self.name),
                     (_("rules"), rules)),
            cut_off=cut_off(self.sheet, self.words, self.show), zone=self.sheet.zone,
            at_us=self.sheet.now_us, sheets=sheets,
            reconciliation=(
                _("%(points)s points with parts = %(signals)s that signal + "
                  "%(rest)s that do not", points=self.show.count(points),
                  signals=self.show.count(len(control.signals)), rest=self.show.count(inside)),
                product_line(self.sheet, self.words, self.show),
                *self.false_alarms(),
            ),
        )  # fmt: skip
