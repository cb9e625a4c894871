"""The words of the next furnace loads, in one language. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ringwright.furnaces.rules import LOADING
from ringwright.heatruns.next_load import NextFree, NextLoad, NextLoads
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words


@dataclass(frozen=True, slots=True)
class LoadWords:
    """When a furnace is free next, what would fill it, and who will be too late."""

    words: Words
    show: Figures
    zone: str

    def free(self, one: NextFree, now_us: int) -> str:
        """When a furnace is free next, as one says it across the hall."""
        _, show = self.words._, self.show
        if one.against:
            return _("blocked: %(why)s", why="; ".join(one.against))
        if one.run is not None and one.run.state == LOADING:
            return self.words.ngettext(
                "%(run)s is being loaded, %(n)s part lies in it",
                "%(run)s is being loaded, %(n)s parts lie in it",
                len(one.run.load), run=one.run.code,
            )  # fmt: skip
        if one.free_us is None:
            run = one.run.code if one.run else one.furnace
            return _("cannot say: the recipe of %(run)s tells no time", run=run)
        if one.run is None:
            return _("free now")
        if one.plan_over:
            return _("%(run)s has run past its plan; free when it ends", run=one.run.code)
        return _(
            "free at %(when)s, when %(run)s is planned to end",
            when=show.moment(one.free_us, self.zone, now_us), run=one.run.code,
        )  # fmt: skip

    def load(self, one: NextLoad, now_us: int) -> str:
        """One suggested run in a line."""
        _ = self.words._
        when = (
            _("now")
            if one.begin_us <= now_us
            else self.show.moment(one.begin_us, self.zone, now_us)
        )
        told = self.words.ngettext(
            "%(furnace)s, %(when)s, %(recipe)s: %(n)s part",
            "%(furnace)s, %(when)s, %(recipe)s: %(n)s parts",
            len(one.places), furnace=one.run or one.furnace, when=when, recipe=one.recipe,
        )  # fmt: skip
        if not one.empty:
            return _("%(told)s, full", told=told)
        empty = self.words.ngettext("%(n)s position empty", "%(n)s positions empty", one.empty)
        return f"{told}, {empty}"

    def proved(self, found: NextLoads) -> str:
        """Whether a better suggestion may exist."""
        _ = self.words._
        if found.proved:
            return _(
                "Proved best: no other loads make more windows, and of those that make as "
                "many none puts first what goes first, fills more places or begins earlier."
            )
        return _(
            "Best found in the time there was: not proved, a better one may exist. "
            "The windows of this one hold."
        )

    def why_missed(self, found: NextLoads) -> Sequence[tuple[str, str]]:
        """(serial, why) of each part that misses its window."""
        _ = self.words._
        over = _("its window is over; it goes back, or waits for the design authority")
        doomed = _("no furnace that could take it is free in time, whatever is done")
        crowded = (
            _("no place is left in time; no other loads would make more windows")
            if found.proved
            else _("no place is left in time in these loads")
        )
        return [
            *((one.serial, over) for one in found.over),
            *((one.serial, doomed) for one in found.doomed),
            *((one.serial, crowded) for one in found.crowded),
        ]
