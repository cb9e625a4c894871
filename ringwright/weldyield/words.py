"""The yield of welds in words and as sheets: one source of page and file. Pure."""

from __future__ import annotations

import math
from collections import Counter

from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.measure.counts import mean_of, middle
from ringwright.welds.defects import DEFECTS
from ringwright.weldyield.model import DIMENSIONS, Delay, Group, Share, WeldYield
from ringwright.weldyield.tally import OF_WELDS


class WeldYieldWords:
    """The words and sheets of one answer in one language."""

    def __init__(self, found: WeldYield, words: Words, show: Figures) -> None:
        self.found, self.words, self.show = found, words, show
        self.counted = found.counted

    def answer(self) -> str:
        """The sentence at the head of the page."""
        _, first = self.words._, self.counted.first
        if not first.n:
            return _("Cannot say yet: no weld was read for the first time in these weeks")
        told = _(
            "%(share)s of %(n)s welds accepted at the first radiograph (%(low)s to %(high)s)",
            share=self.show.percent(first.value),
            n=self.show.count(first.n),
            low=self.show.bare_percent(first.low),
            high=self.show.bare_percent(first.high),
        )
        return f"{told}, {_('small n')}" if first.small else told

    def by(self) -> str:
        """What groups are told apart by."""
        return self.words._(DIMENSIONS[self.found.question.by])

    def key(self, key: str) -> str:
        """A group as a person names it."""
        return key or self.words._("not recorded")

    def beside(self, group: Group) -> str:
        """What may be said of a group beside the others."""
        _ = self.words._
        if group.adjusted is None:
            return _("the only group")
        if group.share.small:
            return _("small n")
        if group.hard:
            return _("more than chance easily makes")
        return _("chance can do this")

    def warning(self) -> str:
        """What looking at many groups does; "" where there are fewer than three."""
        groups = len(self.counted.groups)
        if groups < 3:
            return ""
        return self.words._(
            "%(groups)s groups, each held against all others: about %(wrong)s of them would "
            "look unusual by chance alone (5 in 100). Go by the figures made good for all.",
            groups=self.show.count(groups),
            wrong=self.show.decimal(0.05 * groups, 1),
        )

    def groups(self) -> Sheet:
        """First readings by group."""
        _ = self.words._
        return Sheet(
            code="first readings",
            title=_("Accepted at the first radiograph, by %(what)s", what=self.by()),
            columns=(
                Column(name=self.by(), head=True),
                Column(name=_("accepted"), kind=WHOLE),
                Column(name=_("read first"), kind=WHOLE),
                Column(name=_("share"), kind=SHARE, unit="%"),
                Column(name=_("from"), kind=SHARE, unit="%"),
                Column(name=_("to"), kind=SHARE, unit="%"),
                Column(name=_("by chance"), kind=NUMBER),
                Column(name=_("for all"), kind=NUMBER),
                Column(name=_("beside the others")),
            ),
            rows=tuple(self._group(group) for group in self.counted.groups),
        )

    def _group(self, group: Group) -> tuple[Cell, ...]:
        show, share = self.show, group.share
        chances = (group.chance, group.adjusted)
        return (
            Cell(self.key(group.key), group.key),
            *self._share(share),
            *(Cell(show.decimal(one, 4), one) for one in chances),
            Cell(self.beside(group)),
        )

    def _share(self, share: Share) -> tuple[Cell, ...]:
        show = self.show
        parts = (share.value, share.low, share.high)
        return (
            Cell(show.count(share.good), share.good),
            Cell(show.count(share.n), share.n),
            *(Cell(show.bare_percent(one), one) for one in parts),
        )

    def defects(self) -> Sheet:
        """Defects of first readings a metre of weld."""
        _, show = self.words._, self.show
        return Sheet(
            code="defects",
            title=_("Defects found at first readings, a metre of weld"),
            note=_("over %(metres)s m", metres=show.decimal(self.counted.metres, 2)),
            columns=(
                Column(name=_("defect"), head=True),
                Column(name=_("number of ISO 6520-1")),
                Column(name=_("found"), kind=WHOLE),
                Column(name=_("a metre"), kind=NUMBER),
                Column(name=_("from"), kind=NUMBER),
                Column(name=_("to"), kind=NUMBER),
            ),
            rows=tuple(
                (
                    Cell(_(DEFECTS.get(one.kind, one.kind))),
                    Cell(one.kind, one.kind),
                    Cell(show.count(one.count), one.count),
                    *(
                        Cell(show.decimal(rate, 3), rate)
                        for rate in (one.rate, one.low, one.high)
                    ),
                )
                for one in self.counted.defects
            ),
        )

    def cases(self) -> Sheet:
        """How many cases had how many repairs."""
        _, show = self.words._, self.show
        numbers = Counter(self.counted.cases)
        return Sheet(
            code="repairs",
            title=_("Repairs of the cases whose last weld was accepted in these weeks"),
            columns=(
                Column(name=_("repairs of one case"), kind=WHOLE, head=True),
                Column(name=_("cases"), kind=WHOLE),
            ),
            rows=tuple(
                (Cell(show.count(repairs), repairs), Cell(show.count(cases), cases))
                for repairs, cases in sorted(numbers.items())
            ),
        )

    def repairs(self) -> str:
        """Repairs a case in a sentence."""
        _, show, cases = self.words._, self.show, self.counted.cases
        if not cases:
            return _("No case had its last weld accepted in these weeks.")
        mean = math.fsum(cases) / len(cases)
        told = self.words.ngettext(
            "%(mean)s repairs a case, mean of %(n)s case",
            "%(mean)s repairs a case, mean of %(n)s cases",
            len(cases),
            mean=show.decimal(mean, 2),
            n=show.count(len(cases)),
        )
        reach = mean_of(cases)
        if reach is not None:
            told += " " + _(
                "(95 per cent interval %(low)s to %(high)s)",
                low=show.decimal(max(0.0, reach[1]), 2),
                high=show.decimal(reach[2], 2),
            )
        return told + (f", {_('small n')}." if len(cases) < 20 else ".")

    def mended(self) -> str:
        """How many welds had been repaired before anybody radiographed them."""
        mended = self.counted.mended
        return self.words.ngettext(
            "%(n)s of the welds read first had been repaired before, after its colour or a "
            "penetrant test.",
            "%(n)s of the welds read first had been repaired before, after their colour or a "
            "penetrant test.",
            mended,
            n=self.show.count(mended),
        )

    def rework(self) -> str:
        """Repairs as rework of the welds made, in a sentence."""
        _, show, share = self.words._, self.show, self.counted.rework
        if not share.n:
            return _("No weld was made in these weeks.")
        return _(
            "%(again)s of %(n)s welds made in these weeks were repairs, which count as rework: "
            "%(share)s (%(low)s to %(high)s).",
            again=show.count(share.good),
            n=show.count(share.n),
            share=show.percent(share.value),
            low=show.bare_percent(share.low),
            high=show.bare_percent(share.high),
        )

    def delays(self) -> Sheet:
        """The time that repairs added."""
        _ = self.words._
        return Sheet(
            code="time of repairs",
            title=_("From the first verdict of not accepted to the last acceptance, hours"),
            columns=(
                Column(name=_("of"), head=True),
                Column(name=_("n"), kind=WHOLE),
                Column(name=_("median, clock"), kind=NUMBER, unit="h"),
                Column(name=_("mean, clock"), kind=NUMBER, unit="h"),
                Column(name=_("median, worked"), kind=NUMBER, unit="h"),
                Column(name=_("mean, worked"), kind=NUMBER, unit="h"),
            ),
            rows=tuple(self._delay(one) for one in self.counted.delays),
        )

    def _delay(self, one: Delay) -> tuple[Cell, ...]:
        _, show, n = self.words._, self.show, len(one.clock_h)
        figures = [
            figure
            for hours in (one.clock_h, one.worked_h)
            for figure in (middle(hours), math.fsum(hours) / n if n else None)
        ]
        name = _("a repaired weld") if one.what == OF_WELDS else _("a case with repairs")
        return (
            Cell(name),
            Cell(show.count(n), n),
            *(Cell(show.decimal(figure, 1), figure) for figure in figures),
        )

    def weeks(self) -> str:
        """The weeks that are counted."""
        weeks = self.found.weeks
        if len(weeks) == 1:
            return weeks[0]
        return self.words._("%(first)s to %(last)s", first=weeks[0], last=weeks[-1])

    def sheets(self) -> tuple[Sheet, ...]:
        """Every table of the page, in its order."""
        return (self.groups(), self.defects(), self.cases(), self.delays())

    def book(self) -> Book:
        """The page as a file."""
        _, found = self.words._, self.found
        lines = (self.mended(), self.repairs(), self.rework(), self.warning())
        return Book(
            page="weld yield",
            question=_("How many welds are accepted at the first radiograph?"),
            answer=self.answer(),
            filters=(
                (_("product"), found.question.product or _("all")),
                (_("weeks"), self.weeks()),
                (_("told apart by"), self.by()),
            ),
            cut_off=cut_off(found, self.words, self.show),
            zone=found.zone,
            at_us=found.now_us,
            sheets=self.sheets(),
            reconciliation=tuple(line for line in lines if line),
        )
