"""The words of the furnace week, in one language. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.flow.answer import LONGEST, Piece
from ringwright.furnaces.rules import (
    ABORTED,
    ACCEPTED,
    CLOSED,
    FINISHED,
    FOR_REVIEW,
    HELD,
    LOADING,
    RUNNING,
)
from ringwright.heatruns.next_load import NextLoads
from ringwright.heatruns.week import FurnaceWeek, Passed, WeekOfFurnaces
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.yields.answer import interval_text

SHORT: Final[dict[str, str]] = {
    LOADING: N_("loading"),
    RUNNING: N_("running"),
    FINISHED: N_("no trace yet"),
    FOR_REVIEW: N_("for review"),
    HELD: N_("held"),
    ACCEPTED: N_("accepted"),
    CLOSED: N_("closed"),
    ABORTED: N_("aborted"),
}
"""The states of runs, short enough to stand under a bar."""


@dataclass(frozen=True, slots=True)
class WeekWords:
    """What the furnace week says."""

    words: Words
    show: Figures
    zone: str

    def answer(self, week: WeekOfFurnaces, next_loads: NextLoads | None) -> tuple[Piece, ...]:
        """The page's one line; clauses are left out from the right until it fits."""
        if not week.furnaces:
            return (Piece(self.words._("No furnace is on the register yet")),)
        clauses = [*self._misses(next_loads), *self._used(week), *self._came_out(week)]
        kept: list[Piece] = []
        for one in clauses:
            if kept and sum(len(p.text) + 2 for p in kept) + len(one.text) > LONGEST:
                break
            kept.append(one)
        found: list[Piece] = []
        for place, one in enumerate(kept):
            found += [Piece(", ")] if place else []
            text = one.text if place else one.text[:1].upper() + one.text[1:]
            found.append(Piece(text, one.needs))
        return tuple(found)

    def _misses(self, next_loads: NextLoads | None) -> list[Piece]:
        missed = len(next_loads.missed) if next_loads else 0
        if not missed:
            return []
        told = self.words.ngettext(
            "%(n)s part will miss its window", "%(n)s parts will miss their window", missed
        )
        return [Piece(told, True)]

    def _used(self, week: WeekOfFurnaces) -> list[Piece]:
        _, show = self.words._, self.show
        if not week.begun:
            told = _("no run was begun") if week.over else _("no run has been begun yet")
            return [Piece(told)]
        begun = self.words.ngettext(
            "%(n)s run begun, %(full)s full", "%(n)s runs begun, %(full)s full", week.begun,
            full=show.percent(week.fill.share, 0),
        )  # fmt: skip
        used = _("in a cycle %(share)s of the hours", share=show.percent(week.use.share, 0))
        return [Piece(begun), Piece(used)]

    def _came_out(self, week: WeekOfFurnaces) -> list[Piece]:
        passed = week.passed
        if not passed.first:
            return []
        _, show = self.words._, self.show
        if passed.share.small:
            told = _(
                "%(passed)s of %(all)s passed first time (small n)",
                passed=show.count(passed.passed), all=show.count(passed.first),
            )  # fmt: skip
        else:
            told = _(
                "%(share)s passed first time",
                share=interval_text(passed.share, self.words, show),
            )
        return [Piece(told)]

    def small(self, passed: Passed) -> str:
        """Small n, where there is too little to speak of a difference."""
        return self.words._("small n") if passed.share.small else ""

    def furnace(self, one: FurnaceWeek) -> list[str]:
        """What stands beside a furnace's ruler."""
        _, show = self.words._, self.show
        used = _("%(share)s of the hours", share=show.percent(one.use.share, 0))
        working = _(
            "%(share)s of the working hours", share=show.percent(one.use.working_share, 0)
        )
        if not one.cycles.begun:
            return [used, working, _("no run begun")]
        runs = self.words.ngettext(
            "%(n)s run, %(full)s full", "%(n)s runs, %(full)s full", one.cycles.begun,
            full=show.percent(one.fill.share, 0),
        )  # fmt: skip
        return [used, working, runs]

    def ruler(self, one: FurnaceWeek) -> str:
        """The ruler's answer, for who cannot see it."""
        _, show = self.words._, self.show
        told = [
            _(
                "%(run)s %(state)s, %(from)s to %(to)s",
                run=run.code, state=_(SHORT[run.state]),
                to=_("now") if run.ended_us is None else self.moment(run.ended_us),
                **{"from": self.moment(run.started_us or 0)},
            )
            for run in one.runs
        ]  # fmt: skip
        head = _("%(share)s of the hours in a cycle", share=show.percent(one.use.share))
        return "; ".join([head, *told]) + "."

    def moment(self, us: int) -> str:
        """Day and hour at the site."""
        return f"{self.show.day(us, self.zone)} {self.show.clock(us, self.zone)}"
