"""The walls as sheets: what stands in the tables and in the files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ringwright.kit.cutoff import cut_off
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.wallmaps.board import CaseBoard, CaseLine, WallsBoard
from ringwright.wallmaps.words import METHOD_WORDS, STATES, WallWords
from ringwright.walls.mapping import Judged, ZoneFound
from ringwright.walls.plan import FULL_TURN_DEG, WallPlan, Zone
from ringwright.walls.trend import Expected

Link = Callable[..., str]
POINTS_SHOWN = 12
"""Readings and places listed on the page; the file has them all."""


@dataclass(frozen=True, slots=True)
class WallSheets:
    """The sheets in one language."""

    told: WallWords
    link: Link

    def cases(self, board: WallsBoard, most: int | None = None) -> Sheet:
        """Every case, worst first."""
        _ = self.told.words._
        lines = board.lines if most is None else board.lines[:most]
        return Sheet(
            code="cases",
            title=_("Cases, worst first"),
            columns=(
                Column(name=_("case"), head=True),
                Column(name=_("state")),
                Column(name=_("read at step"), kind=WHOLE),
                Column(name=_("read"), kind=MOMENT),
                Column(name=_("thinnest"), kind=NUMBER, unit="mm"),
                Column(name=_("its lower limit"), kind=NUMBER, unit="mm"),
                Column(name=_("where")),
                Column(name=_("expected at finish"), kind=NUMBER, unit="mm"),
                Column(name="±", kind=NUMBER, unit="mm"),
                Column(name=_("chance to be thin")),
                Column(name=_("expected where")),
            ),
            rows=tuple(self._case(line) for line in lines),
            of=len(board.lines),
            note=_("± is twice the standard uncertainty"),
        )

    def _case(self, line: CaseLine) -> tuple[Cell, ...]:
        told, show, thin, first = self.told, self.told.show, line.map.thinnest, line.first
        link = self.link("wallmaps.case", serial=line.serial)
        at = show.full(line.read.at_us, told.zone)
        ahead = first if line.cuts_left else None
        return (
            Cell(line.serial, line.serial, link),
            Cell(told.state(line)),
            Cell(show.count(line.read.step), line.read.step),
            Cell(at, line.read.at_us),
            self._mm(thin.reading.wall_mm if thin else None),
            self._mm(thin.limits.lower if thin else None),
            Cell(told.where(thin) if thin else ""),
            self._mm(ahead.wall_mm if ahead else None),
            Cell(told.spread(ahead.u_mm), 2 * ahead.u_mm) if ahead else Cell(""),
            Cell(told.chance(ahead), round(ahead.chance_under, 4)) if ahead else Cell(""),
            Cell(told.where(ahead.point) if ahead else ""),
        )

    def _mm(self, value: float | None) -> Cell:
        return Cell("" if value is None else self.told.mm(value), value)

    def zones(self, line: CaseLine) -> Sheet:
        """What was read in each zone."""
        _ = self.told.words._
        return Sheet(
            code="zones",
            title=_("Zones"),
            columns=(
                Column(name=_("zone"), head=True),
                Column(name=_("state")),
                Column(name=_("readings"), kind=WHOLE),
                Column(name=_("least"), kind=NUMBER, unit="mm"),
                Column(name=_("mean"), kind=NUMBER, unit="mm"),
                Column(name=_("most"), kind=NUMBER, unit="mm"),
                Column(name=_("lower limit"), kind=NUMBER, unit="mm"),
                Column(name=_("upper limit"), kind=NUMBER, unit="mm"),
                Column(name=_("thinnest at")),
            ),
            rows=tuple(self._zone(one) for one in line.map.zones),
            note=_("limits after step %(step)s: at finish, and the stock left",
                   step=line.map.step),
        )  # fmt: skip

    def _zone(self, one: ZoneFound) -> tuple[Cell, ...]:
        told, show, least = self.told, self.told.show, one.least
        state = told.words._(STATES[one.state]) if one.n else told.words._("not read")
        return (
            Cell(one.zone.name),
            Cell(state),
            Cell(show.count(one.n), one.n),
            self._mm(least.reading.wall_mm if least else None),
            self._mm(one.mean_mm),
            self._mm(one.most_mm),
            self._mm(one.limits.lower),
            self._mm(one.limits.upper),
            Cell(told.where(least) if least else ""),
        )

    def expected(self, line: CaseLine, most: int | None = None) -> Sheet:
        """What is expected of each place, the likeliest to be thin first."""
        _ = self.told.words._
        shown = line.expected if most is None else line.expected[:most]
        return Sheet(
            code="expected",
            title=_("Expected at finish"),
            columns=(
                Column(name=_("where"), head=True),
                Column(name=_("zone")),
                Column(name=_("now"), kind=NUMBER, unit="mm"),
                Column(name=_("expected"), kind=NUMBER, unit="mm"),
                Column(name="±", kind=NUMBER, unit="mm"),
                Column(name=_("lower limit at finish"), kind=NUMBER, unit="mm"),
                Column(name=_("chance to be thin")),
                Column(name=_("past cases"), kind=WHOLE),
            ),
            rows=tuple(self._expected(one) for one in shown),
            of=len(line.expected),
        )

    def _expected(self, one: Expected) -> tuple[Cell, ...]:
        told = self.told
        return (
            Cell(told.where(one.point)),
            Cell(one.point.zone.name),
            self._mm(one.point.reading.wall_mm),
            self._mm(one.wall_mm),
            Cell(told.spread(one.u_mm), 2 * one.u_mm),
            self._mm(one.point.zone.lower_mm),
            Cell(told.chance(one), round(one.chance_under, 4)),
            Cell(told.show.count(one.cases), one.cases),
        )

    def trend(self, board: CaseBoard) -> Sheet:
        """What went off between each two steps, zone by zone."""
        _, show = self.told.words._, self.told.show
        rows = [
            (
                Cell(_("%(first)s to %(last)s", first=one.first.step, last=one.last.step)),
                Cell(zone.zone.name),
                Cell(show.count(zone.n), zone.n),
                self._mm(zone.planned_mm),
                self._mm(zone.mean_mm),
                self._mm(zone.least_mm),
                self._mm(zone.most_mm),
            )
            for one in board.steps
            for zone in one.zones
        ]
        return Sheet(
            code="trend",
            title=_("Taken off between steps"),
            columns=(
                Column(name=_("steps"), head=True),
                Column(name=_("zone")),
                Column(name=_("places"), kind=WHOLE),
                Column(name=_("planned"), kind=NUMBER, unit="mm"),
                Column(name=_("mean taken"), kind=NUMBER, unit="mm"),
                Column(name=_("least"), kind=NUMBER, unit="mm"),
                Column(name=_("most"), kind=NUMBER, unit="mm"),
            ),
            rows=tuple(rows),
            note=_("nearest places within half the largest gap"),
        )

    def rounds(self, board: CaseBoard) -> Sheet:
        """How the wall runs round each station."""
        _, show = self.told.words._, self.told.show
        return Sheet(
            code="rounds",
            title=_("Round each station"),
            columns=(
                Column(name=_("station"), kind=NUMBER, unit="mm", head=True),
                Column(name=_("readings"), kind=WHOLE),
                Column(name=_("mean off plan"), kind=NUMBER, unit="mm"),
                Column(name=_("eccentric"), kind=NUMBER, unit="mm"),
                Column(name=_("thin side"), kind=NUMBER, unit="deg"),
                Column(name=_("oval"), kind=NUMBER, unit="mm"),
                Column(name=_("thin at, and across"), kind=NUMBER, unit="deg"),
                Column(name=_("the rest"), kind=NUMBER, unit="mm"),
            ),
            rows=tuple(
                (
                    Cell(show.decimal(one.station_mm, 0), one.station_mm),
                    Cell(show.count(one.n), one.n),
                    Cell(show.signed(one.mean_off_mm, 3), one.mean_off_mm),
                    Cell(show.decimal(one.eccentric_mm, 3), one.eccentric_mm),
                    Cell(show.decimal(one.thin_deg, 0), one.thin_deg),
                    Cell(show.decimal(one.oval_mm, 3), one.oval_mm),
                    Cell(show.decimal(one.oval_thin_deg, 0), one.oval_thin_deg),
                    Cell(show.decimal(one.rest_mm, 3), one.rest_mm),
                )
                for one in board.rounds
            ),
            note=_("amplitudes by least squares; the rest is a standard deviation"),
        )

    def points(self, line: CaseLine, most: int | None = None) -> Sheet:
        """The readings nearest their lower limit; in files all of them, by place."""
        _ = self.told.words._
        points = sorted(line.map.points, key=lambda one: one.margin_mm)
        shown: Sequence[Judged] = line.map.points if most is None else points[:most]
        return Sheet(
            code="figures",
            title=_("Figures"),
            columns=(
                Column(name=_("station"), kind=NUMBER, unit="mm", head=True),
                Column(name=_("angle"), kind=NUMBER, unit="deg"),
                Column(name=_("wall"), kind=NUMBER, unit="mm"),
                Column(name=_("zone")),
                Column(name=_("lower limit"), kind=NUMBER, unit="mm"),
                Column(name=_("upper limit"), kind=NUMBER, unit="mm"),
                Column(name=_("state")),
                Column(name=_("point")),
            ),
            rows=tuple(self._point(one) for one in shown),
            of=len(line.map.points),
        )

    def _point(self, one: Judged) -> tuple[Cell, ...]:
        told, show, found = self.told, self.told.show, one.reading
        return (
            Cell(show.decimal(found.station_mm, 1), found.station_mm),
            Cell(show.decimal(found.angle_deg, 1), found.angle_deg),
            Cell(show.reading(found.wall_mm, 3), found.wall_mm),
            Cell(one.zone.name),
            self._mm(one.limits.lower),
            self._mm(one.limits.upper),
            Cell(told.words._(STATES[one.state])),
            Cell(found.point),
        )

    def sets(self, board: CaseBoard) -> Sheet:
        """Every set of readings of the case, newest first."""
        _, told, show = self.told.words._, self.told, self.told.show
        return Sheet(
            code="sets",
            title=_("Sets of readings"),
            columns=(
                Column(name=_("entry"), kind=WHOLE, head=True),
                Column(name=_("step"), kind=WHOLE),
                Column(name=_("read"), kind=MOMENT),
                Column(name=_("readings"), kind=WHOLE),
                Column(name=_("how")),
                Column(name=_("by")),
                Column(name=_("from")),
                Column(name=_("plan")),
                Column(name=_("withdrawn")),
            ),
            rows=tuple(
                (
                    Cell(show.count(one.number), one.number),
                    Cell(show.count(one.step), one.step),
                    Cell(show.full(one.at_us, told.zone), one.at_us),
                    Cell(show.count(one.readings), one.readings),
                    Cell(f"{_(METHOD_WORDS.get(one.method, one.method))} {one.gauge}".strip()),
                    Cell(one.actor),
                    Cell(one.source),
                    Cell(one.revision),
                    Cell("" if one.counts else f"{one.withdrawn_by}: {one.withdrawn_why}"),
                )
                for one in board.sets
            ),
        )

    def plan(self, plan: WallPlan) -> Sheet:
        """The zones of a plan."""
        _ = self.told.words._
        return Sheet(
            code="plan",
            title=_("Zones at finish"),
            columns=(
                Column(name=_("zone"), head=True),
                Column(name=_("from"), kind=NUMBER, unit="mm"),
                Column(name=_("to"), kind=NUMBER, unit="mm"),
                Column(name=_("angles")),
                Column(name=_("lower limit"), kind=NUMBER, unit="mm"),
                Column(name=_("nominal"), kind=NUMBER, unit="mm"),
                Column(name=_("upper limit"), kind=NUMBER, unit="mm"),
                Column(name=_("taken off, mm by step")),
            ),
            rows=tuple(self._plan_zone(zone) for zone in plan.zones),
        )

    def _plan_zone(self, zone: Zone) -> tuple[Cell, ...]:
        _, show = self.told.words._, self.told.show
        whole = (zone.from_deg, zone.to_deg) == (0.0, FULL_TURN_DEG)
        angles = f"{show.decimal(zone.from_deg, 0)}° to {show.decimal(zone.to_deg, 0)}°"
        stock = [f"{step}: {self.told.mm(mm)}" for step, mm in sorted(zone.stock.items())]
        return (
            Cell(zone.name),
            Cell(show.decimal(zone.from_mm, 0), zone.from_mm),
            Cell(show.decimal(zone.to_mm, 0), zone.to_mm),
            Cell(_("all round") if whole else angles),
            self._mm(zone.lower_mm),
            self._mm(zone.nominal_mm),
            self._mm(zone.upper_mm),
            Cell(", ".join(stock)),
        )

    def board_book(self, board: WallsBoard) -> Book:
        """The list of cases as a book."""
        _ = self.told.words._
        filters = ((_("product"), board.product or _("all")), (_("cases"), _(board.scope)))
        return self._book(
            board, "walls", (self.question(), self.told.board_answer(board)),
            filters, (self.cases(board),),
        )  # fmt: skip

    def case_book(self, board: CaseBoard) -> Book:
        """One case as a book: every reading, and what they say."""
        _, line = self.told.words._, board.line
        sheets = [self.sets(board)]
        if line is not None:
            sheets = [
                self.points(line), self.zones(line), self.expected(line), self.trend(board),
                self.rounds(board), *sheets,
            ]  # fmt: skip
        filters = [(_("case"), board.part.serial)]
        if line is not None:
            filters.append((_("step"), str(line.map.step)))
        told = (self.case_question(), self.told.case_answer(board))
        return self._book(
            board, f"wall-{board.part.serial}", told, tuple(filters), tuple(sheets)
        )

    def question(self) -> str:
        """The question of the list."""
        return self.told.words._("Which case's wall is thin, or will be after the last cut?")

    def case_question(self) -> str:
        """The question of one case."""
        return self.told.words._("Where is the wall of this case thinnest, and will it do?")

    def _book(
        self,
        board: WallsBoard | CaseBoard,
        name: str,
        told: tuple[str, str],
        filters: tuple[tuple[str, str], ...],
        sheets: tuple[Sheet, ...],
    ) -> Book:
        drawn = board.drawn
        return Book(
            page=name,
            question=told[0],
            answer=told[1],
            filters=filters,
            cut_off=cut_off(drawn, self.told.words, self.told.show),
            zone=drawn.zone,
            at_us=drawn.now_us,
            sheets=sheets,
        )
