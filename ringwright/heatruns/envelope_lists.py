"""What the corridor of good runs would have said of past ones, in words and as sheets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ringwright.flow.answer import Piece
from ringwright.heat.back_test import (
    EARLY,
    FALSE_ALARM,
    LATE,
    MISSED,
    QUIET,
    BackTest,
    Compared,
)
from ringwright.heat.envelope import FEWEST_RUNS, Departure
from ringwright.heatruns.departing import beyond_text
from ringwright.heatruns.envelopes import GoodRuns
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import NOTHING, SMALL_N, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words

Link = Callable[..., str]


@dataclass(frozen=True, slots=True)
class EnvelopeLists:
    """The words and lists in one language."""

    words: Words
    show: Figures
    link: Link

    def answer(self, found: GoodRuns) -> tuple[Piece, ...]:
        """The page's one line."""
        _, show, test = self.words._, self.show, found.test
        if found.envelope is None:
            told = _(
                "Cannot say yet: %(need)s accepted runs are needed, %(n)s are there",
                need=show.count(FEWEST_RUNS), n=show.count(found.good),
            )  # fmt: skip
            return (Piece(told),)
        return (Piece(f"{self._caught(test)}; {self._in_vain(test)}"),)

    def _caught(self, test: BackTest) -> str:
        _, n_, show = self.words._, self.words.ngettext, self.show
        if not test.bad:
            return _("No bad run to test against")
        told = n_(
            "%(early)s of %(n)s bad run flagged early",
            "%(early)s of %(n)s bad runs flagged early",
            test.bad, n=show.count(test.bad), early=show.count(test.count(EARLY)),
        )  # fmt: skip
        won = test.median_early_min
        if won is None:
            return told
        return _("%(told)s, by %(minutes)s min", told=told, minutes=show.decimal(won, 0))

    def _in_vain(self, test: BackTest) -> str:
        if not test.good:
            return self.words._("no good run to test against")
        return self.words.ngettext(
            "%(wolf)s of %(n)s good run in vain", "%(wolf)s of %(n)s good runs in vain",
            test.good, n=self.show.count(test.good),
            wolf=self.show.count(test.count(FALSE_ALARM)),
        )  # fmt: skip

    def sums(self, found: GoodRuns) -> Sheet:
        """How often it was right, with intervals."""
        _, test = self.words._, found.test
        bad, good = test.caught_interval, test.false_alarm_interval
        expected = test.expected_false_alarm_ratio
        return Sheet(
            code="sums",
            title=_("How often it would have been right"),
            columns=(
                Column(name=_("What"), head=True),
                Column(name=_("Share"), kind=SHARE, unit="%"),
                Column(name=_("from"), kind=SHARE, unit="%"),
                Column(name=_("to"), kind=SHARE, unit="%"),
                Column(name=_("Runs"), kind=WHOLE),
                Column(name=_("of"), kind=WHOLE),
                Column(name=_("To be expected"), kind=SHARE, unit="%"),
                Column(name=_("Minutes won, median"), kind=NUMBER, unit="min"),
                Column(name=_("Note")),
            ),
            rows=(
                (
                    Cell(_("bad runs flagged before their limit broke")),
                    *self._share(test.caught_ratio, bad),
                    self._count(test.count(EARLY)),
                    self._count(test.bad),
                    Cell(NOTHING),
                    self._minutes(test.median_early_min),
                    self._small(test.bad),
                ),
                (
                    Cell(_("good runs flagged in vain")),
                    *self._share(test.false_alarm_ratio, good),
                    self._count(test.count(FALSE_ALARM)),
                    self._count(test.good),
                    self._percent(expected),
                    Cell(NOTHING),
                    self._small(test.good),
                ),
            ),
        )

    def _share(
        self, value: float | None, interval: tuple[float, float] | None
    ) -> tuple[Cell, ...]:
        low, high = interval or (None, None)
        return self._percent(value), self._percent(low), self._percent(high)

    def _percent(self, value: float | None) -> Cell:
        return Cell(self.show.bare_percent(value), value)

    def _count(self, value: int) -> Cell:
        return Cell(self.show.count(value), value)

    def _minutes(self, value: float | None) -> Cell:
        return Cell(self.show.decimal(value, 0), value)

    def _small(self, n: int) -> Cell:
        return Cell(self.words._("small n") if 0 < n < SMALL_N else NOTHING)

    def runs(self, found: GoodRuns) -> Sheet:
        """Each past run and what would have been said of it, the newest first."""
        _ = self.words._
        return Sheet(
            code="back test",
            title=_("Past runs, the newest first"),
            columns=(
                Column(name=_("Run"), head=True),
                Column(name=_("Began"), kind=MOMENT),
                Column(name=_("Came to")),
                Column(name=_("In words")),
                Column(name=_("Flagged at"), kind=WHOLE, unit="min"),
                Column(name=_("Why")),
                Column(name=_("Limit broken at"), kind=WHOLE, unit="min"),
                Column(name=_("Corridor of good runs"), kind=WHOLE),
            ),
            rows=tuple(self._run(one, found) for one in reversed(found.test.runs)),
        )

    def _run(self, one: Compared, found: GoodRuns) -> tuple[Cell, ...]:
        _, left = self.words._, one.departure
        recipe, began = found.recipe, found.runs[one.run].started_us or 0
        link = self.link(
            "heatruns.envelope", recipe=recipe.code, revision=recipe.revision, run=one.run
        )
        limit = None
        if left is not None and one.early_min is not None:
            limit = round(left.minute + one.early_min)
        return (
            Cell(one.run, one.run, link),
            Cell(self.show.full(began, found.zone), began),
            Cell(_("accepted") if one.met else _("not met")),
            Cell(self.in_words(one)),
            Cell(NOTHING) if left is None else self._count(left.minute),
            Cell(NOTHING if left is None else self.why(left)),
            Cell(NOTHING) if limit is None else self._count(limit),
            self._count(one.past_runs),
        )

    def why(self, left: Departure) -> str:
        """What left the corridor, and how far."""
        edge = left.low if left.direction == "below" else left.high
        return beyond_text(left, abs(left.value - edge), self.words, self.show)

    def in_words(self, one: Compared) -> str:
        """What a supervisor would have got of it."""
        _, n_ = self.words._, self.words.ngettext
        minute = "" if one.departure is None else self.show.count(one.departure.minute)
        if one.outcome == EARLY and one.early_min is not None:
            won = round(one.early_min)
            return n_(
                "flagged %(n)s min before its limit broke",
                "flagged %(n)s min before its limit broke", won, n=self.show.count(won),
            )  # fmt: skip
        if one.outcome == LATE:
            late = round(-(one.early_min or 0.0))
            if not late:
                return _("flagged only as its limit broke")
            return n_(
                "flagged only %(n)s min after its limit broke",
                "flagged only %(n)s min after its limit broke", late, n=self.show.count(late),
            )  # fmt: skip
        said = {
            EARLY: _("flagged at minute %(m)s; what it missed is no moment", m=minute),
            MISSED: _("not flagged"),
            QUIET: _("quiet, as it should be"),
            FALSE_ALARM: _("cried wolf at minute %(m)s", m=minute),
        }
        few = _("not compared: fewer than %(n)s good runs were known then", n=FEWEST_RUNS)
        return said.get(one.outcome, few)

    def book(self, found: GoodRuns) -> Book:
        """The page as a book."""
        _, recipe = self.words._, found.recipe
        return Book(
            page="furnace-envelope",
            question=_("What do good runs read, and would a bad one have been seen early?"),
            answer="".join(piece.text for piece in self.answer(found)),
            filters=(
                (_("Site"), found.drawn.site_name or found.drawn.site),
                (_("recipe"), recipe.code),
                (_("revision"), recipe.revision),
            ),
            cut_off=cut_off(found.drawn, self.words, self.show),
            zone=found.zone,
            at_us=found.drawn.now_us,
            sheets=(self.sums(found), self.runs(found)),
        )
