"""An hour more at each station group, in words, as a sheet and as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.core.calendar import HOUR_US
from ringwright.flow.forecast_board import chance_words
from ringwright.kit.charts import Scale, whole_ticks
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.queueing.extra import Gain, GroupGain
from ringwright.queues.extra import FEW, LEARN_WEEKS, ExtraSheet

DRAWN: Final = 8
"""Groups in the picture; the table has all."""
ROW: Final = 44.0
_SURE: Final = 0.9999
"""A simulation is never quite sure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One group in the picture; across in per cent, down in pixels."""

    code: str
    text: str
    y: float
    mean: float
    low: float
    high: float
    seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HourPicture:
    """Gains with their intervals, one group under the other."""

    rows: tuple[Row, ...]
    ticks: tuple[tuple[float, str], ...]
    nought: float
    height: float
    of: int

    @property
    def floor(self) -> float:
        """Where the scale stands."""
        return self.height - 26


class HourLists:
    """The sheet and the sentences in one language."""

    def __init__(self, words: Words, show: Figures) -> None:
        self.words, self.show = words, show

    def answer(self, sheet: ExtraSheet) -> str:
        """The one line: where an hour more would release most, or that none is seen to."""
        _, show, found = self.words._, self.show, sheet.gains
        if found is None:
            return self.cannot(sheet)
        if found.named:
            return _(
                "An hour more at %(group)s would release %(gain)s parts more this week",
                group=found.named.code, gain=show.decimal(found.named.hour.mean),
            )  # fmt: skip
        best = self._best_shift(found.groups)
        if best is not None and best.shift is not None:
            return _(
                "No single hour is seen to release more; a shift at %(group)s, %(gain)s parts",
                group=best.code, gain=show.decimal(best.shift.mean),
            )  # fmt: skip
        return _("No hour more at any one station group is seen to release more this week")

    def _best_shift(self, groups: Sequence[GroupGain]) -> GroupGain | None:
        seen = [one for one in groups if one.shift and one.shift.low > 0]
        return max(seen, key=lambda one: one.shift.mean if one.shift else 0.0, default=None)

    def cannot(self, sheet: ExtraSheet) -> str:
        """Why nothing can be said yet."""
        _ = self.words._
        if sheet.releases < FEW:
            return _(
                "Cannot say yet: %(n)s releases in %(weeks)s weeks, %(few)s are needed",
                n=self.show.count(sheet.releases), weeks=LEARN_WEEKS, few=FEW,
            )  # fmt: skip
        return _("Cannot say yet: no step names a station group of this site")

    def told(self, sheet: ExtraSheet) -> tuple[str, ...]:
        """What stands beside the answer: how sure it is, a whole shift, and without either."""
        _, show, found = self.words._, self.show, sheet.gains
        if found is None:
            return ()
        said = []
        if found.named:
            said.append(
                _(
                    "95 %% interval %(low)s to %(high)s parts; the best of all groups: "
                    "%(chance)s.",
                    low=show.decimal(found.named.hour.low),
                    high=show.decimal(found.named.hour.high),
                    chance=chance_words(min(found.named.best, _SURE), self.words, show),
                )
            )
        said += [self._shift(one, one.shift) for one in found.groups if one.shift]
        said.append(
            _(
                "Without, this simulation releases %(n)s parts more by the end of the week. It "
                "lets nothing wait for hands, tools or the way between stations, so it is "
                "quicker than the shop.",
                n=show.decimal(found.without.mean),
            )
        )
        return tuple(said)

    def _shift(self, one: GroupGain, shift: Gain) -> str:
        _, show = self.words._, self.show
        if not shift.seen:
            return _("A whole shift (8 h) at %(group)s: no difference seen.", group=one.code)
        return _(
            "A whole shift (8 h) at %(group)s: %(gain)s parts (%(low)s to %(high)s).",
            group=one.code, gain=show.signed(shift.mean, 1), low=show.decimal(shift.low),
            high=show.decimal(shift.high),
        )  # fmt: skip

    def sheet(self, sheet: ExtraSheet) -> Sheet:
        """Every group with its gain; empty while nothing can be said."""
        _ = self.words._
        groups = sheet.gains.groups if sheet.gains else ()
        return Sheet(
            code="hour",
            title=_("An hour more at each station group, the most gained first"),
            columns=(
                Column(name=_("station group"), head=True),
                Column(name=_("added")),
                Column(name=_("parts more"), kind=NUMBER),
                Column(name=_("standard error"), kind=NUMBER),
                Column(name=_("95 %% from"), kind=NUMBER),
                Column(name=_("to"), kind=NUMBER),
                Column(name=_("difference")),
                Column(name=_("chance of being best"), kind=SHARE),
                Column(name=_("runs that used it"), kind=SHARE),
                Column(name=_("a shift, parts"), kind=NUMBER),
                Column(name=_("its 95 %% from"), kind=NUMBER),
                Column(name=_("its 95 %% to"), kind=NUMBER),
                Column(name=_("pairs of runs"), kind=WHOLE),
            ),
            rows=tuple(self._row(one, sheet) for one in groups),
        )

    def _row(self, one: GroupGain, sheet: ExtraSheet) -> tuple[Cell, ...]:
        _, show, hour, shift = self.words._, self.show, one.hour, one.shift
        said = _("seen") if hour.seen else _("no difference seen")
        eight = (shift.mean, shift.low, shift.high) if shift else (None, None, None)
        return (
            Cell(one.code),
            Cell(self._added(one, sheet)),
            *(
                Cell(show.decimal(value, 2), value)
                for value in (hour.mean, hour.error, hour.low, hour.high)
            ),
            Cell(said),
            Cell(show.percent(one.best, 0), one.best),
            Cell(show.percent(one.used, 0), one.used),
            *(
                Cell(NOTHING if value is None else show.decimal(value, 2), value)
                for value in eight
            ),
            Cell(show.count(one.runs), one.runs),
        )

    def _added(self, one: GroupGain, sheet: ExtraSheet) -> str:
        """How the hour would be added."""
        _, drawn = self.words._, sheet.drawn
        if one.beside:
            return _("one beside, now")
        at_us = drawn.now_us + round(one.at_h * HOUR_US)
        moment = self.show.moment(at_us, drawn.zone, drawn.now_us)
        return _("overtime, %(moment)s", moment=moment)

    def picture(self, sheet: ExtraSheet) -> HourPicture | None:
        """The first groups, dot and posts each; None while nothing can be said."""
        if sheet.gains is None or not sheet.gains.groups:
            return None
        groups = sheet.gains.groups[:DRAWN]
        low = min(0.0, *(one.hour.low for one in groups))
        high = max(1.0, *(one.hour.high for one in groups))
        across = Scale(low, high, 4.0, 96.0)
        return HourPicture(
            rows=tuple(
                Row(
                    code=one.code, text=f"{one.code} {self.show.signed(one.hour.mean, 1)}",
                    y=ROW * place + 18, mean=across(one.hour.mean), low=across(one.hour.low),
                    high=across(one.hour.high), seen=one.hour.seen,
                )
                for place, one in enumerate(groups)
            ),
            ticks=tuple((across(n), self.show.count(n)) for n in whole_ticks(low, high, 6)),
            nought=across(0.0),
            height=ROW * len(groups) + 34,
            of=len(sheet.gains.groups),
        )  # fmt: skip

    def book(self, sheet: ExtraSheet) -> Book:
        """The answer with its sheet."""
        drawn = sheet.drawn
        return Book(
            page="queues-hour",
            question=self.words._("Where would an hour more release most parts this week?"),
            answer=self.answer(sheet),
            filters=((self.words._("Site"), drawn.site_name or drawn.site),),
            cut_off=cut_off(drawn, self.words, self.show),
            zone=drawn.zone,
            at_us=drawn.now_us,
            sheets=(self.sheet(sheet),),
        )
