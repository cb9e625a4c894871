"""What a control chart says, in words, and its figures as sheets. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ringwright.core.glossary import N_
from ringwright.flow.loads import load_name
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, SHARE, TEXT, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.measure.signals import BEYOND, FOUR_OF_FIVE, SIDE, TWO_OF_THREE
from ringwright.yields.charting import SINGLES, Control, Dot
from ringwright.yields.model import YieldSheet
from ringwright.yields.parts import Behind

RULE_WORDS = {
    BEYOND: N_("past a limit"),
    SIDE: N_("nine in a row on one side"),
    TWO_OF_THREE: N_("two of three past two thirds of the limit"),
    FOUR_OF_FIVE: N_("four of five past a third of the limit"),
}
RULE_SOURCES = {
    BEYOND: N_("Shewhart's limits; NIST/SEMATECH e-Handbook, 6.3.2"),
    SIDE: N_("Nelson 1984, test 2"),
    TWO_OF_THREE: N_("Nelson 1984, test 5"),
    FOUR_OF_FIVE: N_("Nelson 1984, test 6"),
}
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
        step = self.sheet.step(self.control.step)
        return step.name if step else self.words._("Final yield")

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
        if control.kind == SINGLES:
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
        if control.charts > 1:
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

    def points(self, link: Link) -> Sheet:
        """Every point with its limits and what it says."""
        _, of_loads = self.words._, self.control.of_loads
        first = _("load") if of_loads else _("week")
        return Sheet(
            code="points",
            title=_("%(name)s, point by point", name=self.name),
            columns=(
                Column(name=first, head=True), Column(name=_("share"), kind=SHARE, unit="%"),
                Column(name=_("n"), kind=WHOLE), Column(name=_("loads"), kind=WHOLE),
                Column(name=_("lower"), kind=SHARE, unit="%"),
                Column(name=_("upper"), kind=SHARE, unit="%"),
                Column(name=_("in the window")), Column(name=_("it says")),
            ),
            rows=tuple(self._point(dot, link) for dot in self.control.dots),
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
            self._share(dot.value), Cell(self.show.count(dot.n), dot.n),
            Cell("") if loads is None else Cell(self.show.count(loads), loads),
            self._share(dot.lower), self._share(dot.upper),
            Cell(_("yes") if dot.in_window else _("no")), Cell(word),
        )  # fmt: skip

    def _share(self, value: float | None) -> Cell:
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

    def book(self, sheets: tuple[Sheet, ...], filters: tuple[tuple[str, str], ...]) -> Book:
        """The page as a file."""
        _, control = self.words._, self.control
        points = sum(bool(dot.n) for dot in control.dots)
        inside = points - len(control.signals)
        rules = "; ".join(f"{_(RULE_WORDS[r])} ({_(RULE_SOURCES[r])})" for r in control.rules)
        return Book(
            page="yield chart", question=_("Is the yield changing?"), answer=self.answer(),
            filters=(*filters, (_("chart"), self.name), (_("rules"), rules)),
            cut_off=cut_off(self.sheet, self.words, self.show), zone=self.sheet.zone,
            at_us=self.sheet.now_us, sheets=sheets,
            reconciliation=(
                _("%(points)s points with parts = %(signals)s that signal + "
                  "%(rest)s that do not", points=self.show.count(points),
                  signals=self.show.count(len(control.signals)), rest=self.show.count(inside)),
                *self.false_alarms(),
            ),
        )  # fmt: skip
