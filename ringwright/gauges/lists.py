"""Gauges as sheets: the register, calibrations, checks, suspect readings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from ringwright.gauges.register import GaugeLine, GaugeSheet, Register
from ringwright.gauges.rules import (
    WITHDRAWN,
    Calibrated,
    Checked,
)
from ringwright.gauges.words import STATES, GaugeWords
from ringwright.kit.cutoff import Snapshot, cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.parts.words import PLACE_WORDS

CHECKS_SHOWN: Final = 20
DASH: Final = "\u2013"

Link = Callable[..., str]


@dataclass(frozen=True, slots=True)
class GaugeLists:
    """The lists in one language."""

    words: Words
    show: Figures
    link: Link

    def register(self, found: Register) -> Sheet:
        """Every gauge and how it stands."""
        _ = self.words._
        return Sheet(
            code="gauges",
            title=_("Gauges"),
            columns=(
                Column(name=_("Gauge"), head=True),
                Column(name=_("Kind")),
                Column(name=_("Name")),
                Column(name=_("Stands at")),
                Column(name=_("State")),
                Column(name=_("Calibration good to")),
                Column(name=_("Standard uncertainty"), kind=NUMBER),
                Column(name=_("Last digit"), kind=NUMBER),
                Column(name=_("Unit")),
                Column(name=_("Suspect readings"), kind=WHOLE),
            ),
            rows=tuple(self._line(one) for one in found.lines),
        )

    def _line(self, one: GaugeLine) -> tuple[Cell, ...]:
        gauge, u = one.gauge, one.now.uncertainty
        return (
            Cell(gauge.code, gauge.code, self.link("gauges.one", gauge=gauge.code)),
            Cell(gauge.kind),
            Cell(gauge.name),
            Cell(gauge.station or DASH),
            Cell(self.words._(STATES[one.now.state])),
            Cell(one.now.due or DASH),
            Cell(self.show.standard(u), u),
            Cell(self.show.reading(gauge.resolution, 0), gauge.resolution),
            Cell(self.show.unit(gauge.unit)),
            Cell(self.show.count(one.suspects), one.suspects),
        )

    def masters(self, found: Register) -> Sheet:
        """The parts that gauges are checked on."""
        _, show = self.words._, self.show
        return Sheet(
            code="masters",
            title=_("Masters"),
            columns=(
                Column(name=_("Master"), head=True),
                Column(name=_("For gauges of kind")),
                Column(name=_("Name")),
                Column(name=_("Reads"), kind=NUMBER),
                Column(name=_("Allowed difference"), kind=NUMBER),
                Column(name=_("Unit")),
                Column(name=_("In use")),
            ),
            rows=tuple(
                (
                    Cell(one.code),
                    Cell(one.gauge_kind),
                    Cell(one.name),
                    Cell(show.reading(one.value, 0), one.value),
                    Cell(show.reading(one.allowed, 0), one.allowed),
                    Cell(show.unit(one.unit)),
                    Cell(_("no") if one.withdrawn else _("yes")),
                )
                for one in found.masters
            ),
        )

    def calibrations(self, found: GaugeSheet) -> Sheet:
        """What its calibrations found, the newest first."""
        _ = self.words._
        return Sheet(
            code="calibrations",
            title=_("Calibrations"),
            columns=(
                Column(name=_("On"), head=True),
                Column(name=_("Good to")),
                Column(name=_("Found")),
                Column(name=_("Standard uncertainty"), kind=NUMBER, unit=found.line.gauge.unit),
                Column(name=_("Certificate")),
                Column(name=_("Note")),
                Column(name=_("By")),
            ),
            rows=tuple(
                self._calibration(one, found) for one in reversed(found.line.past.calibrations)
            ),
        )

    def _calibration(self, one: Calibrated, found: GaugeSheet) -> tuple[Cell, ...]:
        """A failed one leads to all that was read between the good one before it and then."""
        _ = self.words._
        link = "" if one.good else self.link("trace.touched", **found.touched_by(one))
        return (
            Cell(one.on),
            Cell(one.due),
            Cell(_("good") if one.good else _("failed"), link=link),
            Cell(self.show.standard(one.uncertainty), one.uncertainty),
            Cell(one.certificate),
            Cell(one.note),
            Cell(one.actor),
        )

    def checks(self, found: GaugeSheet, most: int | None = None) -> Sheet:
        """What it read on masters, the newest first."""
        _ = self.words._
        rows = list(reversed(found.line.past.checks))
        return Sheet(
            code="checks",
            title=_("Checks on a master"),
            columns=(
                Column(name=_("Checked"), kind=MOMENT, head=True),
                Column(name=_("Master")),
                Column(name=_("Read"), kind=NUMBER),
                Column(name=_("Should read"), kind=NUMBER),
                Column(name=_("Allowed difference"), kind=NUMBER),
                Column(name=_("Unit")),
                Column(name=_("Found")),
                Column(name=_("Note")),
                Column(name=_("By")),
            ),
            rows=tuple(self._check(one, found.drawn) for one in rows[:most]),
            of=len(rows),
        )

    def _check(self, one: Checked, drawn: Snapshot) -> tuple[Cell, ...]:
        _, show = self.words._, self.show
        return (
            Cell(show.moment(one.at_us, drawn.zone, drawn.now_us), one.at_us),
            Cell(one.master),
            Cell(show.reading(one.value, 0), one.value),
            Cell(show.reading(one.expected, 0), one.expected),
            Cell(show.reading(one.allowed, 0), one.allowed),
            Cell(show.unit(one.unit)),
            Cell(_("good") if one.good else _("failed")),
            Cell(one.note),
            Cell(one.actor),
        )

    def suspects(self, found: GaugeSheet) -> Sheet:
        """Which readings are suspect, and where their parts are now."""
        _, show, drawn = self.words._, self.show, found.drawn
        return Sheet(
            code="suspects",
            title=_("Suspect readings"),
            columns=(
                Column(name=_("Part"), head=True),
                Column(name=_("Characteristic")),
                Column(name=_("Reading"), kind=NUMBER),
                Column(name=_("Unit")),
                Column(name=_("Read"), kind=MOMENT),
                Column(name=_("Why")),
                Column(name=_("Where it is now")),
                Column(name=_("Step"), kind=WHOLE),
            ),
            rows=tuple(
                (
                    Cell(one.serial, one.serial, self.link("trace.part", serial=one.serial)),
                    Cell(one.characteristic),
                    Cell(show.reading(one.value, 0), one.value),
                    Cell(show.unit(one.unit)),
                    Cell(show.moment(one.at_us, drawn.zone, drawn.now_us), one.at_us),
                    Cell(one.why),
                    Cell(_(PLACE_WORDS[one.place])),
                    Cell(show.count(one.step), one.step),
                )
                for one in found.suspects
            ),
            of=max(found.line.suspects, len(found.suspects)),
        )

    def answer(self, found: Register) -> str:
        """The page's one line."""
        _, show = self.words._, self.show
        if not found.lines:
            return _("No gauge is on the register yet")
        in_use = sum(one.now.state != WITHDRAWN for one in found.lines)
        if not found.blocked:
            return _("All %(n)s gauges in use may decide", n=show.count(in_use))
        return _(
            "%(blocked)s of %(n)s gauges in use decide nothing now",
            blocked=show.count(len(found.blocked)),
            n=show.count(in_use),
        )

    def answer_of(self, found: GaugeSheet) -> str:
        """The line of one gauge."""
        _, now = self.words._, found.line.now
        if now.decides:
            return _(
                "%(gauge)s may decide; its calibration is good to %(day)s",
                gauge=found.gauge.code,
                day=now.due,
            )
        return _(
            "%(gauge)s decides nothing: %(why)s",
            gauge=found.gauge.code,
            why=GaugeWords(self.words, self.show).why(found.line),
        )

    def book(self, found: Register) -> Book:
        """The register as a book."""
        sheets = (self.register(found), self.masters(found))
        question = self.words._("Which gauges may decide, and which not?")
        return self._book("gauges", (question, self.answer(found)), found.drawn, sheets)

    def book_of(self, found: GaugeSheet) -> Book:
        """One gauge as a book."""
        sheets = (self.calibrations(found), self.checks(found), self.suspects(found))
        question = self.words._("May %(gauge)s decide?", gauge=found.gauge.code)
        name = f"gauge {found.gauge.code}"
        return self._book(name, (question, self.answer_of(found)), found.drawn, sheets)

    def _book(
        self, name: str, told: tuple[str, str], drawn: Snapshot, sheets: tuple[Sheet, ...]
    ) -> Book:
        return Book(
            page=name,
            question=told[0],
            answer=told[1],
            filters=((self.words._("Site"), drawn.site_name or drawn.site),),
            cut_off=cut_off(drawn, self.words, self.show),
            zone=drawn.zone,
            at_us=drawn.now_us,
            sheets=sheets,
        )
