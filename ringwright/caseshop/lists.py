"""The machine week and the board as sheets: what stands on the pages and in their files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ringwright.caseshop.board import Board
from ringwright.caseshop.desk import HOUR_US, TICK_US
from ringwright.caseshop.week import CaseWeek, Stop
from ringwright.caseshop.words import KINDS, CaseWords
from ringwright.kit.cutoff import Drawn, cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.machines.card import REASONS, Fixture, MachiningPlan
from ringwright.machines.rules import CUTTING, SET_UP, STOPPED, Noted

Link = Callable[..., str]


@dataclass(frozen=True, slots=True)
class CaseLists:
    """The sheets in one language."""

    words: Words
    show: Figures
    link: Link
    zone: str

    @property
    def told(self) -> CaseWords:
        """The words beside the figures."""
        return CaseWords(self.words, self.show, self.zone)

    def book(self, page: str, question: str, drawn: Drawn, answer: str, *sheets: Sheet) -> Book:
        """Sheets with what they were drawn from."""
        return Book(
            page=page,
            question=question,
            answer=answer,
            filters=(),
            cut_off=cut_off(drawn, self.words, self.show),
            zone=self.zone,
            at_us=drawn.now_us,
            sheets=sheets,
        )

    def machines(self, week: CaseWeek) -> Sheet:
        """The hours of each machine."""
        _ = self.words._
        return Sheet(
            code="machines",
            title=_("Hours of the machines"),
            columns=(
                Column(name=_("Machine"), head=True),
                self._hours(_("Working, gone")),
                self._hours(_("Working, left")),
                self._hours(_("Set-up")),
                self._hours(_("Cutting")),
                self._hours(_("Stopped")),
                Column(name=_("Cases off"), kind=WHOLE),
            ),
            rows=tuple(
                (
                    self._machine(one.code),
                    self._h(one.gone_h),
                    self._h(one.left_h),
                    self._h(one.hours(SET_UP)),
                    self._h(one.hours(CUTTING)),
                    self._h(one.hours(STOPPED)),
                    Cell(self.show.count(one.off), one.off),
                )
                for one in week.machines
            ),
        )

    def cases(self, week: CaseWeek) -> Sheet:
        """Every case that was on, planned against actual."""
        _ = self.words._
        return Sheet(
            code="cases",
            title=_("Cases on the machines, planned against actual"),
            columns=(
                Column(name=_("Case"), head=True),
                Column(name=_("Step"), kind=WHOLE),
                Column(name=_("Machine")),
                Column(name=_("On"), kind=MOMENT),
                Column(name=_("Off"), kind=MOMENT),
                self._hours(_("On the machine")),
                self._hours(_("Set-up planned")),
                self._hours(_("Set-up")),
                self._hours(_("Spindle planned")),
                self._hours(_("Cutting")),
                self._hours(_("Stopped")),
            ),
            rows=tuple(
                (
                    self._part(case.stay.serial),
                    Cell(str(case.stay.step), case.stay.step),
                    self._machine(one.code),
                    self._moment(case.begin_us),
                    Cell(_("on")) if case.stay.on else self._moment(case.stay.end_us),
                    self._h(case.hours),
                    self._h(case.planned_set_up_h),
                    self._h(case.set_up_h),
                    self._h(case.planned_spindle_h),
                    self._h(case.cutting_h),
                    self._h(case.stopped_h),
                )
                for one in week.machines
                for case in one.cases
            ),
        )

    def stops(self, stops: Sequence[Stop], title: str) -> Sheet:
        """Stops by machine and reason, the most hours first."""
        _ = self.words._
        return Sheet(
            code="stops",
            title=title,
            columns=(
                Column(name=_("Reason"), head=True),
                Column(name=_("Machine")),
                Column(name=_("Times"), kind=WHOLE),
                self._hours(_("Stopped")),
            ),
            rows=tuple(
                (
                    Cell(_(REASONS[one.reason]), one.reason),
                    self._machine(one.machine),
                    Cell(self.show.count(one.times), one.times),
                    self._h(one.hours),
                )
                for one in stops
            ),
        )

    def placements(self, board: Board) -> Sheet:
        """The plan, row by row."""
        _ = self.words._
        return Sheet(
            code="plan",
            title=_("Proposal") if board.proposed else _("The plan"),
            columns=(
                Column(name=_("Case"), head=True),
                Column(name=_("Step"), kind=WHOLE),
                Column(name=_("Machine")),
                Column(name=_("Start"), kind=MOMENT),
                Column(name=_("End"), kind=MOMENT),
                self._hours(_("Set-up")),
                Column(name=_("Lock")),
                self._hours(_("Late")),
            ),
            rows=tuple(
                (
                    self._part(line.placement.serial),
                    Cell(str(line.step), line.step),
                    self._machine(line.placement.machine),
                    Cell(_("on")) if line.on else self._moment(line.start_us),
                    self._moment(line.end_us),
                    self._h(line.placement.set_up * TICK_US / HOUR_US),
                    Cell(_("locked") if line.placement.locked else ""),
                    self._h(line.late_ticks * TICK_US / HOUR_US if line.late_ticks else None),
                )
                for line in board.lines
            ),
        )

    def log(self, log: Sequence[Noted]) -> Sheet:
        """A spindle's log, the newest line first."""
        _ = self.words._
        return Sheet(
            code="log",
            title=_("Spindle log"),
            columns=(
                Column(name=_("At"), kind=MOMENT, head=True),
                Column(name=_("What")),
                Column(name=_("Reason")),
                Column(name=_("In words")),
                Column(name=_("Case")),
                Column(name=_("By")),
            ),
            rows=tuple(
                (
                    self._moment(one.at_us),
                    Cell(_(KINDS[one.kind])),
                    Cell(_(REASONS[one.reason]) if one.reason else NOTHING, one.reason or None),
                    Cell(one.text or NOTHING, one.text or None),
                    self._part(one.serial) if one.serial else Cell(NOTHING),
                    Cell(one.actor),
                )
                for one in reversed(log)
            ),
        )

    def needs(self, plans: Sequence[MachiningPlan]) -> Sheet:
        """What machining needs, by product and step."""
        _ = self.words._
        return Sheet(
            code="needs",
            title=_("Machining plans"),
            columns=(
                Column(name=_("Product"), head=True),
                Column(name=_("Step"), kind=WHOLE),
                self._hours(_("Set-up")),
                self._hours(_("Spindle")),
                Column(name=_("Fixture")),
                Column(name=_("Machines that may")),
            ),
            rows=tuple(
                (
                    Cell(plan.product),
                    Cell(str(need.step), need.step),
                    self._h(need.set_up_h),
                    self._h(need.spindle_h),
                    Cell(need.fixture or NOTHING, need.fixture or None),
                    Cell(", ".join(need.machines)),
                )
                for plan in plans
                for need in plan.needs
            ),
        )

    def fixtures(self, fixtures: Sequence[Fixture]) -> Sheet:
        """Fixtures with their counts."""
        _ = self.words._
        return Sheet(
            code="fixtures",
            title=_("Fixtures"),
            columns=(
                Column(name=_("Kind"), head=True),
                Column(name=_("Name")),
                Column(name=_("Count"), kind=WHOLE),
            ),
            rows=tuple(
                (
                    Cell(one.kind),
                    Cell(one.name or NOTHING),
                    Cell(self.show.count(one.count), one.count),
                )
                for one in fixtures
            ),
        )

    def _hours(self, name: str) -> Column:
        return Column(name=name, kind=NUMBER, unit="h")

    def _h(self, value: float | None) -> Cell:
        return Cell(self.told.hours(value), value)

    def _moment(self, us: int) -> Cell:
        return Cell(self.told.moment(us), us)

    def _machine(self, code: str) -> Cell:
        return Cell(code, code, self.link("caseshop.machine", station=code))

    def _part(self, serial: str) -> Cell:
        return Cell(serial, serial, self.link("trace.part", serial=serial))
