"""What a comparison of two groups says, in words, and its figures as a sheet. Pure."""

from __future__ import annotations

from ringwright.core.glossary import N_
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.yields.comparing import EXACT, Comparison, Pair, Side
from ringwright.yields.model import YieldSheet
from ringwright.yields.sheets import filters_of, product_line

BY_WORDS = {
    "week": N_("week"), "lot": N_("lot"), "furnace": N_("furnace"), "station": N_("station"),
    "shift": N_("shift"), "revision": N_("revision"), "product": N_("product"),
}  # fmt: skip


class CompareWords:
    """The words and sheets of one comparison in one language."""

    def __init__(self, sheet: YieldSheet, found: Comparison, words: Words, show: Figures
                 ) -> None:  # fmt: skip
        self.sheet, self.found, self.words, self.show = sheet, found, words, show

    @property
    def what(self) -> str:
        """What is compared."""
        step = self.sheet.step(self.found.step)
        if step is None:
            return self.words._("Final yield")
        return self.words._("First-pass yield at %(step)s", step=step.name)

    def key(self, side: Side) -> str:
        """A group as a person names it."""
        return side.key or self.words._("not recorded")

    def answer(self) -> str:
        """The sentence at the head of the page."""
        _, pair = self.words._, self.found.chosen
        if self.found.overlap:
            return _("Choose a step: one part can be at several of these before it is out.")
        if pair is None:
            return _("Cannot say yet: there are no two groups with parts.")
        names = {"a": self.key(pair.a), "b": self.key(pair.b)}
        if pair.hard:
            return _("%(a)s and %(b)s differ by more than chance alone easily makes.", **names)
        if pair.small:
            return _("%(a)s and %(b)s: chance alone can do this; small n.", **names)
        return _("%(a)s and %(b)s: chance alone can do this.", **names)

    def share(self, side: Side) -> str:
        """90.0 % (18 of 20; 69.9 to 97.2), with the loads where they count."""
        _, share, show = self.words._, side.share, self.show
        told = _(
            "%(key)s: %(value)s (%(good)s of %(n)s; 95 per cent interval %(low)s to %(high)s)",
            key=self.key(side), value=show.percent(share.value), good=show.count(side.good),
            n=show.count(share.n), low=show.bare_percent(share.low),
            high=show.bare_percent(share.high),
        )  # fmt: skip
        if share.loads is not None:
            told += ", " + self.words.ngettext(
                "from %(n)s load", "from %(n)s loads", share.loads, n=show.count(share.loads)
            )
        return told + (", " + _("small n") if share.small else "")

    def lines(self, pair: Pair) -> tuple[str, ...]:
        """The difference, its test, and what looking at many does to it."""
        _, show = self.words._, self.show
        told = (
            _("Difference %(difference)s points, 95 per cent interval %(low)s to %(high)s "
              "(Newcombe 1998, from both Wilson intervals).",
              difference=self.points(pair.difference), low=self.points(pair.low),
              high=self.points(pair.high)),
            _("If nothing but chance were at work, a difference at least this unusual would "
              "come %(often)s (%(test)s).", often=self.often(pair.chance),
              test=self.test(pair)),
        )  # fmt: skip
        if not self.found.many:
            return (*told, _("It is the only comparison that could be made here."))
        made_good = _(
            "Made good for all %(pairs)s comparisons that could be made here: %(often)s "
            "(Holm 1979).", pairs=show.count(self.found.could), often=self.often(pair.adjusted),
        )  # fmt: skip
        return (*told, made_good)

    def test(self, pair: Pair) -> str:
        """The test by name, and what it counts."""
        _ = self.words._
        if pair.test == EXACT:
            return _("Fisher's exact test, part by part, two-sided")
        return _(
            "whole loads shared out anew, since parts of one load fail together; two-sided"
        )

    def often(self, chance: float) -> str:
        """A chance as 4 in 100; small ones in 1,000."""
        _, show = self.words._, self.show
        if chance < 0.001:
            return _("less than 1 in 1,000 times")
        if chance < 0.1:
            return _("%(n)s in 1,000 times", n=show.count(round(1000 * chance)))
        return _("%(n)s in 100 times", n=show.count(round(100 * chance)))

    def points(self, value: float) -> str:
        """A difference of shares in percentage points, with its sign."""
        return self.show.signed(100 * value, 1)

    def warning(self) -> str:
        """What many comparisons do; "" where there is one."""
        if not self.found.many:
            return ""
        return self.words._(
            "%(groups)s groups make %(pairs)s possible comparisons: whoever looks at all of "
            "them finds about %(wrong)s that chance alone makes look unusual (5 in 100). "
            "Choose what to compare before looking, or go by the figures made good for all.",
            groups=self.show.count(len(self.found.sides)),
            pairs=self.show.count(self.found.could),
            wrong=self.show.decimal(0.05 * self.found.could, 1),
        )  # fmt: skip

    def pairs(self) -> Sheet:
        """The first group against each other one."""
        _ = self.words._
        return Sheet(
            code="pairs",
            title=_("%(what)s, against each other group", what=self.what),
            columns=(
                Column(name=_("group"), head=True), Column(name=_("against")),
                Column(name=_("share"), kind=SHARE, unit="%"),
                Column(name=_("n"), kind=WHOLE), Column(name=_("loads"), kind=WHOLE),
                Column(name=_("its share"), kind=SHARE, unit="%"),
                Column(name=_("its n"), kind=WHOLE), Column(name=_("its loads"), kind=WHOLE),
                Column(name=_("difference, points"), kind=NUMBER),
                Column(name=_("from"), kind=NUMBER), Column(name=_("to"), kind=NUMBER),
                Column(name=_("by chance"), kind=NUMBER),
                Column(name=_("made good for all"), kind=NUMBER), Column(name=_("beside them")),
            ),
            rows=tuple(self._row(pair) for pair in self.found.pairs),
        )  # fmt: skip

    def _row(self, pair: Pair) -> tuple[Cell, ...]:
        _, show = self.words._, self.show
        apart = (pair.difference, pair.low, pair.high)
        word = _("chance can do this")
        if pair.hard:
            word = _("more than chance easily makes")
        elif pair.small:
            word = _("small n")
        return (
            Cell(self.key(pair.a)), Cell(self.key(pair.b)), *self._side(pair.a),
            *self._side(pair.b),
            *(Cell(self.points(one), 100 * one) for one in apart),
            Cell(show.decimal(pair.chance, 4), pair.chance),
            Cell(show.decimal(pair.adjusted, 4), pair.adjusted), Cell(word),
        )  # fmt: skip

    def _side(self, side: Side) -> tuple[Cell, ...]:
        share, show = side.share, self.show
        loads = Cell("") if share.loads is None else Cell(show.count(share.loads), share.loads)
        return (Cell(show.bare_percent(share.value), share.value),
                Cell(show.count(share.n), share.n), loads)  # fmt: skip

    def book(self, sheets: tuple[Sheet, ...]) -> Book:
        """The page as a file."""
        _, found, show = self.words._, self.found, self.show
        all_parts = sum(side.share.n for side in found.sides)
        each = " + ".join(show.count(side.share.n) for side in found.sides) or show.count(0)
        told = self.lines(found.chosen) if found.chosen else ()
        return Book(
            page="yield compare", question=_("Do two groups differ?"), answer=self.answer(),
            filters=(*filters_of(self.sheet, self.words),
                     (_("told apart by"), _(BY_WORDS[found.by])), (_("compared"), self.what)),
            cut_off=cut_off(self.sheet, self.words, show), zone=self.sheet.zone,
            at_us=self.sheet.now_us, sheets=sheets,
            reconciliation=(
                _("%(n)s parts in %(groups)s groups: %(each)s", n=show.count(all_parts),
                  groups=show.count(len(found.sides)), each=each),
                product_line(self.sheet, self.words, show), *told,
                *filter(None, (self.warning(),)),
            ),
        )  # fmt: skip
