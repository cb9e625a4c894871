"""The acts of a week in words: what, why, what it costs, and where to act. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from ringwright.core.glossary import N_
from ringwright.core.instants import HOUR_US, midnight_us
from ringwright.flow.acts import GAUGE, HELD, OVER, PAPER, SHORT, STARVED, WINDOW, Act, ActPart
from ringwright.flow.model import WeekSheet
from ringwright.kit.left import Left
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import NUMBER, WHOLE, Cell, Column, Sheet
from ringwright.kit.words import Words

NO_REASON: Final = N_("no reason recorded")
RAISABLE: Final = (WINDOW, OVER)
"""Kinds whose worst part may be let go first from the list."""


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """One thing to act on, as it is told."""

    rank: int
    kind: str
    product: str
    step: int | None
    """Where on the route it bites; None: nowhere on it."""
    cause: str
    why: str
    figure: str
    """What it costs."""
    place: str
    route: str
    """The route and the query of the address where somebody can act."""
    query: Mapping[str, object] = field(default_factory=dict)
    left: Left | None = None
    raises: ActPart | None = None
    """The part that can be let go first from here."""
    first: bool = False
    """True where that part goes first already."""
    parts: float = 0.0
    share: float = 0.0


def told_acts(sheet: WeekSheet, words: Words, show: Figures) -> tuple[Trouble, ...]:
    """Every act of the week in words; none of a week that is over."""
    if sheet.now_us >= sheet.end_us:
        return ()
    teller = _Teller(sheet, words, show)
    return tuple(teller.told(act) for act in sheet.acts)


class _Teller:
    """Says each kind of act."""

    def __init__(self, sheet: WeekSheet, words: Words, show: Figures) -> None:
        self.sheet, self.words, self.show = sheet, words, show
        self.names = {strip.numbers.product: strip.name for strip in sheet.strips}
        self.steps = {
            (strip.numbers.product, row.number): row.name
            for strip in sheet.strips
            for row in strip.standing
        }
        self.out = {s.numbers.product: s.numbers.output for s in sheet.strips}
        self.targets = {s.numbers.product: s.numbers.target for s in sheet.strips}

    def told(self, act: Act) -> Trouble:
        """One act."""
        kinds = {WINDOW: self.window, HELD: self.held, OVER: self.over, STARVED: self.starved,
                 SHORT: self.short, GAUGE: self.gauge, PAPER: self.paper}  # fmt: skip
        return kinds[act.kind](act)

    def _step(self, act: Act) -> str:
        name = self.steps.get((act.product, act.step or 0), "")
        return f"{act.step} {name}".strip()

    def _parts(self, n: float) -> str:
        shown = self.show.count(n)
        return self.words.ngettext("%(n)s part", "%(n)s parts", max(1, round(n)), n=shown)

    def cost(self, act: Act) -> str:
        """Parts at stake and of which promise; what costs none of it yet says so."""
        _ = self.words._
        name, target = self.names.get(act.product, act.product), self.targets.get(act.product)
        if target is not None and self.out.get(act.product, 0) >= target:
            return _("The week's promise of %(name)s is out already.", name=name)
        if not act.parts:
            return _("No part of this week waits for it yet.")
        parts = self._parts(round(act.parts, 1))
        if target is None:
            return _("%(parts)s of %(name)s, nothing promised", parts=parts, name=name)
        return _(
            "%(parts)s of the %(target)s promised, %(name)s",
            parts=parts, target=self.show.count(target), name=name,
        )  # fmt: skip

    def _make(
        self, act: Act, cause: str, why: str, to: tuple[str, str], **q: object
    ) -> Trouble:
        place, route = to
        raises = act.worst if act.kind in RAISABLE else None
        if raises is not None and raises.held is not None:
            raises = None  # who goes first does not matter while it is held
        return Trouble(
            rank=act.rank,
            kind=act.kind,
            product=act.product,
            step=act.step,
            cause=cause,
            why=why,
            figure=self.cost(act),
            place=place,
            route=route,
            query=q,
            left=self._left(act),
            raises=None if self.sheet.as_of else raises,
            first=bool(raises and raises.priority),
            parts=act.parts,
            share=act.share,
        )

    def _left(self, act: Act) -> Left | None:
        if act.kind != WINDOW or act.worst is None or act.worst.deadline_us is None:
            return None
        until = act.worst.deadline_us
        over = self.words._("window ran out")
        return Left(until_us=until, left_us=until - self.sheet.now_us, over=over)

    def _moment(self, us: int) -> str:
        return self.show.moment(us, self.sheet.zone, self.sheet.now_us)

    def window(self, act: Act) -> Trouble:
        """Windows about to run out."""
        _, worst = self.words._, act.worst
        assert worst is not None
        assert worst.deadline_us is not None
        cause = _(
            "%(step)s: %(parts)s must begin by %(until)s",
            step=self._step(act), parts=self.show.count(act.parts),
            until=self._moment(worst.deadline_us),
        )  # fmt: skip
        why = _("%(serial)s is the first.", serial=worst.serial)
        if worst.held is not None:
            why = _("%(serial)s is the first, and is held: %(reason)s", serial=worst.serial,
                    reason=self._reason(worst.held))  # fmt: skip
        to = (_("Open %(serial)s at the Bench", serial=worst.serial), "bench.page")
        return self._make(act, cause, why, to, scan=worst.serial)

    def held(self, act: Act) -> Trouble:
        """Parts on hold, the longest named."""
        _, worst = self.words._, act.worst
        assert worst is not None
        cause = _("%(step)s: %(parts)s held", step=self._step(act),
                  parts=self.show.count(act.parts))  # fmt: skip
        why = _(
            "Longest: %(serial)s, %(hours)s: %(reason)s",
            serial=worst.serial,
            hours=self.show.hours((self.sheet.now_us - worst.held_since_us) / HOUR_US),
            reason=self._reason(worst.held or ""),
        )
        return self._at_step(act, cause, why, "held")

    def _reason(self, reason: str) -> str:
        return self.words._(reason) if reason == NO_REASON else reason

    def _at_step(self, act: Act, cause: str, why: str, state: str) -> Trouble:
        """An act whose place is the list of parts of its step."""
        to = (self.words._("Parts there"), "floor.parts")
        asked = {"product": act.product, "step": act.step, "state": state}
        return self._make(act, cause, why, to, **asked)

    def over(self, act: Act) -> Trouble:
        """Parts over plan with their excess, by the clock and worked."""
        _, worst, hours = self.words._, act.worst, self.show.hours
        assert worst is not None
        cause = _("%(step)s: %(parts)s over plan", step=self._step(act),
                  parts=self.show.count(act.parts))  # fmt: skip
        why = _(
            "Over by %(clock)s in all, %(worked)s worked. Most: %(serial)s by %(most)s, "
            "%(most_worked)s worked.",
            clock=hours(act.excess_h), worked=hours(act.excess_worked_h), serial=worst.serial,
            most=hours(worst.excess_us / HOUR_US),
            most_worked=hours(worst.excess_worked_us / HOUR_US),
        )  # fmt: skip
        return self._at_step(act, cause, why, "late")

    def starved(self, act: Act) -> Trouble:
        """A group of stations with nothing to do."""
        _, one = self.words._, act.starved
        assert one is not None
        cause = _("%(group)s: nothing to do since %(since)s", group=one.group,
                  since=self._moment(one.since_us))  # fmt: skip
        stations = self.words.ngettext(
            "%(n)s station", "%(n)s stations", one.stations, n=self.show.count(one.stations)
        )
        why = _("%(stations)s, %(hours)s of working time.", stations=stations,
                hours=self.show.hours(one.idle_h))  # fmt: skip
        step = one.feeds_step
        if step is not None:
            name = self.steps.get((one.product, step), "")
            why += " " + _(
                "Its next parts stand at %(step)s: %(n)s.",
                step=f"{step} {name}".strip(), n=self.show.count(one.feeds),
            )  # fmt: skip
        asked = {"product": act.product, "step": one.step if step is None else step}
        to = (_("What comes next"), "floor.parts")
        return self._make(act, cause, why, to, **asked)

    def short(self, act: Act) -> Trouble:
        """Sets one blade short."""
        _, one = self.words._, act.short
        assert one is not None
        cause = _("%(name)s: one blade short of a set",
                  name=self.names.get(one.product, one.product))  # fmt: skip
        why = _("%(free)s finished blades are free, a set takes %(size)s.",
                free=self.show.count(one.free), size=self.show.count(one.size))  # fmt: skip
        return self._make(
            act, cause, why, (_("Blade sets"), "sets.builder"), product=one.product
        )

    def gauge(self, act: Act) -> Trouble:
        """A gauge whose calibration falls due."""
        _, one = self.words._, act.lapsing
        assert one is not None
        cause = _("Gauge %(code)s is due on %(day)s", code=one.code, day=self._day(one.day))
        why = _("After that day it decides nothing.")
        return self._make(act, cause, why, (_("The gauge"), "gauges.one"), gauge=one.code)

    def paper(self, act: Act) -> Trouble:
        """An authorisation, or its eyesight test, that ends."""
        _, one = self.words._, act.lapsing
        assert one is not None
        day = self._day(one.day)
        if one.what == "eyesight":
            cause = _("%(who)s: eyesight test until %(day)s", who=one.code, day=day)
        else:
            cause = _("%(who)s: authorised until %(day)s", who=one.code, day=day)
        why = _("After that day they may not do it.")
        to = (_("Authorisations"), "ground.authorisations")
        return self._make(act, cause, why, to)

    def _day(self, day: str) -> str:
        return self.show.day(midnight_us(day, self.sheet.zone), self.sheet.zone)


def acts_sheet(troubles: tuple[Trouble, ...], words: Words, show: Figures) -> Sheet:
    """The list as a sheet of the week's files."""
    _ = words._
    return Sheet(
        code="to act on",
        title=_("To act on"),
        columns=(
            Column(name=_("rank"), kind=WHOLE, head=True),
            Column(name=_("product")),
            Column(name=_("what")),
            Column(name=_("why")),
            Column(name=_("what it costs")),
            Column(name=_("parts at stake"), kind=NUMBER),
        ),
        rows=tuple(
            (
                Cell(show.count(one.rank), one.rank),
                Cell(one.product),
                Cell(one.cause),
                Cell(one.why),
                Cell(one.figure),
                Cell(show.decimal(one.parts), round(one.parts, 6)),
            )
            for one in troubles
        ),
    )
