"""A furnace run in words: its answer, its state, the rules its trace is judged by."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ringwright.core.glossary import N_
from ringwright.core.instants import parse_instant
from ringwright.flow.answer import Piece
from ringwright.furnaces import rules
from ringwright.heat.recipe import Recipe, Segment
from ringwright.heatruns.breaks import CEILING, PRESSURE, Break
from ringwright.heatruns.departing import Departure
from ringwright.heatruns.drawing import word_of
from ringwright.heatruns.picture import Tick
from ringwright.heatruns.ready import Against
from ringwright.heatruns.run_board import RunBoard
from ringwright.heatruns.words import STATES, FurnaceWords
from ringwright.kit.numbers import GAP, Figures
from ringwright.kit.words import Words

CAUTION: Final = N_(
    "Hot pressure equipment, hot surfaces, and inert gas that suffocates without warning. The "
    "site's furnace rules, local codes and licensed practice decide how it is done; this "
    "record does not."
)
RULES: Final = (
    N_(
        "A soak starts when every working thermocouple is in its band and ends at the last "
        "such reading before the load leaves for the next target. The edges of a band are "
        "inside."
    ),
    N_(
        "Its clock counts the minutes in which all of them are in band. A dip stops the "
        "clock; one of more than %(dip)s fails the soak."
    ),
    N_(
        "On heating nothing may read above the band from the first thermocouple that comes "
        "into it until the soak ends."
    ),
    N_("No thermocouple may ever read above %(ceiling)s."),
    N_(
        "A stretch without readings of over three times the usual interval is a gap; the "
        "clock does not run across it."
    ),
    N_("A rate is the slope of a thermocouple over five minutes."),
    N_(
        "A pressure out of its band fails the segment and stops no clock; of a ramp the "
        "pressure counts where it ends. It is the gauge pressure in the cavity."
    ),
    N_(
        "A thermocouple that is blank or stands still for 30 min has failed for the whole run "
        "and is left out; at least %(least)s must work. A run with a failed one goes to "
        "engineering review."
    ),
    N_("Two different readings at one time, or readings that no furnace gives, are never met."),
)
"""By which a trace is judged, in plain words; the recipe's own figures are filled in."""
DAY_S: Final = 24 * 3600
_UTC: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?\+00:00")
"""How a judgement spells the times of a kept trace."""


@dataclass(frozen=True, slots=True)
class RunWords:
    """The words in one language; times in the site's zone."""

    words: Words
    show: Figures
    zone: str
    now_us: int

    def state(self, state: str) -> str:
        """A run's state."""
        return self.words._(STATES[state])

    def minutes(self, minutes: float | None) -> str:
        """A length of time as one says it: 38 min, 1 h 12 min."""
        if minutes is None:
            return self.show.decimal(None)
        whole = int(minutes + 1e-6)
        if whole < 120:
            return self.words._("%(n)s min", n=self.show.count(whole))
        hours, rest = divmod(whole, 60)
        if not rest:
            return self.words._("%(h)s h", h=self.show.count(hours))
        return self.words._("%(h)s h %(m)s min", h=self.show.count(hours), m=rest)

    def band(self, segment: Segment) -> str:
        """What a segment asks of the temperature."""
        target = self.show.reading(segment.target_c, 0)
        return f"{target} ± {self.show.reading(segment.tolerance_c, 0)}"

    def pressed(self, segment: Segment) -> str:
        """What a segment asks of the pressure; empty where it asks none."""
        if segment.pressure_kpa is None:
            return ""
        reach = self.show.reading(segment.pressure_tolerance_kpa or 0.0, 0)
        return f"{self.show.reading(segment.pressure_kpa, 0)} ± {reach}"

    def site_times(self, text: str) -> str:
        """A judgement's sentence with its times by the site's clock, to the second."""

        def told(found: re.Match[str]) -> str:
            us = parse_instant(found[0])
            clock = self.show.full(us, self.zone).rpartition(" ")[2]
            day = self.show.day(us, self.zone)
            today = self.show.day(self.now_us, self.zone)
            return clock if day == today else f"{day} {clock}"

        return _UTC.sub(told, text)

    def broke(self, found: Break) -> str:
        """A broken limit in one sentence."""
        _ = self.words._
        unit = self.show.unit("kPa" if found.channel == PRESSURE else "degC")
        value = f"{self.show.reading(found.value, 1)}{GAP}{unit}"
        limit = f"{self.show.reading(found.limit, 0)}{GAP}{unit}"
        told = {
            "what": _("pressure") if found.channel == PRESSURE else word_of(found.channel),
            "value": value,
            "limit": limit,
            "at": self.at(found.at_s),
            "lasted": self.lasted(found.minutes),
        }
        if found.way == CEILING:
            return _(
                "%(what)s read %(value)s at %(at)s, over the ceiling of %(limit)s for "
                "%(lasted)s", **told,
            )  # fmt: skip
        if found.way == "above":
            return _(
                "%(what)s read %(value)s at %(at)s, above %(limit)s for %(lasted)s", **told
            )
        return _("%(what)s read %(value)s at %(at)s, below %(limit)s for %(lasted)s", **told)

    def lasted(self, minutes: float) -> str:
        """A short time: seconds below two minutes."""
        if minutes < 2:
            return self.words._("%(n)s s", n=self.show.decimal(minutes * 60.0, 0))
        return self.minutes(minutes)

    def hour(self, tick: Tick, ticks: Sequence[Tick], begun: bool) -> str:
        """A round hour under the picture; with its day where there is more than one.

        Of a cycle that has not begun, the time from its start.
        """
        if not begun:
            return self.minutes(tick.value / 60.0)
        us = round(tick.value * 1e6)
        clock = self.show.clock(us, self.zone)
        if ticks[-1].value - ticks[0].value <= DAY_S:
            return clock
        return f"{self.show.weekday(us, self.zone)} {clock}"

    def at(self, seconds: float) -> str:
        """An instant of the trace by the site's clock."""
        us = round(seconds * 1e6)
        return self.show.moment(us, self.zone, self.now_us)

    def against(self, one: Against) -> str:
        """What keeps the furnace from being started, as the rest of a sentence about it."""
        return FurnaceWords(self.words, self.show).against(one)

    def left_corridor(self, one: Departure) -> str:
        """When the run left what good runs do, and by what."""
        told = FurnaceWords(self.words, self.show)
        return told.left_corridor(one, self.zone, self.now_us)

    def out_of_good(self, one: Departure) -> str:
        """What such a flag is worth."""
        return FurnaceWords(self.words, self.show).out_of_good(one)

    def answer(self, board: RunBoard) -> tuple[Piece, ...]:
        """What the run does and whether its cycle is proved, in one sentence."""
        return tuple(_ANSWERS[board.run.state](self, board))

    def _loading(self, board: RunBoard) -> Iterator[Piece]:
        _ = self.words._
        laid, all_ = len(board.run.load), len(board.load)
        told = {"laid": self.show.count(laid), "all": self.show.count(all_)}
        if not board.free:
            yield Piece(_("The furnace is full: %(all)s parts", **told))
        else:
            yield Piece(_("Takes parts: %(laid)s of %(all)s positions are filled", **told))
        if board.not_ready:
            yield Piece("; ")
            yield Piece(_("it may not be started"), needs=True)

    def _running(self, board: RunBoard) -> Iterator[Piece]:
        _, now = self.words._, board.under_way
        gone = self.minutes(board.elapsed_min)
        yield Piece(_("Has run for %(gone)s", gone=gone))
        if now is None:
            yield Piece(_(", no readings yet"))
            return
        yield Piece(_(", in %(segment)s", segment=now.name))
        judged = board.pictures.judgement
        faults = judged is not None and any(one.faults for one in judged.segments)
        if faults or (judged is not None and judged.channels_failed):
            yield Piece("; ")
            yield Piece(_("something is wrong already"), needs=True)

    def _finished(self, board: RunBoard) -> Iterator[Piece]:
        del board
        yield Piece(self.words._("The cycle has ended; "))
        yield Piece(self.words._("its readings are missing"), needs=True)

    def _for_review(self, board: RunBoard) -> Iterator[Piece]:
        yield Piece(self.words._("The trace met %(recipe)s; ", recipe=board.run.recipe))
        yield Piece(self.words._("somebody who did not run it must review it"), needs=True)

    def _held(self, board: RunBoard) -> Iterator[Piece]:
        _, judged = self.words._, board.judged
        met = judged is not None and judged["verdict"] == "met"
        if met:
            yield Piece(_("Held: a thermocouple failed, so the cycle is not proved"), True)
        else:
            told = _("Held: the trace did not meet %(recipe)s", recipe=board.run.recipe)
            yield Piece(told, needs=True)
        count = len(board.waiting)
        yield Piece(self._wait(count))

    def _accepted(self, board: RunBoard) -> Iterator[Piece]:
        who = board.run.accepted_by
        yield Piece(self.words._("Accepted by %(who)s: the trace met its recipe", who=who))

    def _aborted(self, board: RunBoard) -> Iterator[Piece]:
        if board.run.started_us is None:
            yield Piece(self.words._("Given up before it began; its parts wait as before"))
            return
        yield Piece(self.words._("Broken off: the cycle is not proved"), needs=True)
        yield Piece(self._wait(len(board.waiting)))

    def _closed(self, board: RunBoard) -> Iterator[Piece]:
        del board
        told = self.words._("Closed after its review; the cycle was not accepted")
        yield Piece(told)

    def _wait(self, count: int) -> str:
        if not count:
            return ""
        return self.words.ngettext(
            "; %(n)s part waits for its sentence",
            "; %(n)s parts wait for their sentence",
            count,
            n=self.show.count(count),
        )

    def rules_of(self, recipe: Recipe) -> tuple[str, ...]:
        """By which rules the trace is judged, with this recipe's own figures."""
        show, ceiling = self.show, recipe.ceiling_c
        told = {
            "dip": self.minutes(recipe.max_dip_minutes),
            "least": show.count(recipe.min_channels),
            "ceiling": f"{show.reading(ceiling, 0)}{GAP}{show.unit('degC')}",
        }
        return tuple(
            self.words._(rule, **told)
            for rule in RULES
            if ceiling is not None or "%(ceiling)s" not in rule
        )


_ANSWERS: Final[dict[str, Any]] = {
    rules.LOADING: RunWords._loading,
    rules.RUNNING: RunWords._running,
    rules.FINISHED: RunWords._finished,
    rules.FOR_REVIEW: RunWords._for_review,
    rules.HELD: RunWords._held,
    rules.ACCEPTED: RunWords._accepted,
    rules.ABORTED: RunWords._aborted,
    rules.CLOSED: RunWords._closed,
}
