"""Furnaces, windows, runs, proofs and recipes as sheets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.furnaces.card import PROOFS, UNITS
from ringwright.furnaces.rules import FurnacePast, ProofOnRecord, Run
from ringwright.heat.recipe import Recipe
from ringwright.heatruns.board import Board
from ringwright.heatruns.words import FurnaceWords
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Cell, Column, Sheet
from ringwright.kit.words import Words

RUNS_SHOWN: Final = 40

Link = Callable[..., str]


@dataclass(frozen=True, slots=True)
class FurnaceLists:
    """The lists in one language."""

    words: Words
    show: Figures
    link: Link
    zone: str

    def windows(self, board: Board) -> Sheet:
        """The parts that wait for a heat cycle, those whose window ends first on top."""
        _, told = self.words._, FurnaceWords(self.words, self.show)
        rows = []
        for part in board.waiting:
            left = part.left_us(board.now_us)
            rows.append(
                (
                    Cell(part.serial, part.serial, self.link("trace.part", serial=part.serial)),
                    Cell(part.product),
                    Cell(f"{part.step.number} {part.step.name}"),
                    self._moment(part.deadline_us),
                    Cell(told.left(part, board.now_us), None if left is None else left / 6e7),
                    Cell(_("held: %(why)s", why=part.hold) if part.hold else NOTHING),
                )
            )
        return Sheet(
            code="windows",
            title=_("Waiting for a furnace"),
            columns=(
                Column(name=_("Blade"), head=True),
                Column(name=_("Product")),
                Column(name=_("Step")),
                Column(name=_("Window until"), kind=MOMENT),
                Column(name=_("Left")),
                Column(name=_("Hold")),
            ),
            rows=tuple(rows),
        )

    def _moment(self, us: int | None) -> Cell:
        return Cell(NOTHING) if us is None else Cell(self.show.full(us, self.zone), us)

    def runs(self, runs: Sequence[Run], title: str) -> Sheet:
        """Runs, the newest first."""
        _, told = self.words._, FurnaceWords(self.words, self.show)
        return Sheet(
            code="runs",
            title=title,
            columns=(
                Column(name=_("Run"), head=True),
                Column(name=_("Recipe")),
                Column(name=_("State")),
                Column(name=_("Load"), kind=WHOLE),
                Column(name=_("Began"), kind=MOMENT),
                Column(name=_("Ended"), kind=MOMENT),
                Column(name=_("Accepted by")),
            ),
            rows=tuple(
                (
                    Cell(run.code, run.code, self.link("heatruns.run", run=run.code)),
                    Cell(f"{run.recipe} {run.revision}"),
                    Cell(told.state(run)),
                    Cell(self.show.count(len(run.load)), len(run.load)),
                    self._moment(run.started_us),
                    self._moment(run.ended_us),
                    Cell(run.accepted_by or NOTHING),
                )
                for run in runs
            ),
        )

    def proofs(self, past: FurnacePast) -> Sheet:
        """What was proved of a furnace, the newest first."""
        _ = self.words._
        return Sheet(
            code="proofs",
            title=_("Surveys and tests"),
            columns=(
                Column(name=_("On"), head=True),
                Column(name=_("What")),
                Column(name=_("Found")),
                Column(name=_("Value"), kind=NUMBER),
                Column(name=_("Unit")),
                Column(name=_("Good to")),
                Column(name=_("Certificate")),
                Column(name=_("Note")),
                Column(name=_("By")),
            ),
            rows=tuple(self._proof(one) for one in reversed(past.proofs)),
        )

    def _proof(self, one: ProofOnRecord) -> tuple[Cell, ...]:
        _, found = self.words._, one.found
        return (
            Cell(found.on),
            Cell(_(PROOFS[found.what])),
            Cell(_("good") if found.good else _("failed")),
            Cell(self.show.decimal(found.value, 2), found.value),
            Cell(self.show.unit(UNITS[found.what])),
            Cell(found.due),
            Cell(found.certificate or NOTHING),
            Cell(found.note or NOTHING),
            Cell(one.by),
        )

    def segments(self, recipe: Recipe) -> Sheet:
        """What a recipe asks, segment by segment."""
        _, show = self.words._, self.show

        def figure(value: float | None, places: int = 1) -> Cell:
            return Cell(NOTHING) if value is None else Cell(show.decimal(value, places), value)

        return Sheet(
            code="segments",
            title=_("Segments"),
            columns=(
                Column(name=_("Segment"), head=True),
                Column(name=_("Kind")),
                Column(name=_("Target"), kind=NUMBER, unit="degC"),
                Column(name=_("Either side"), kind=NUMBER, unit="degC"),
                Column(name=_("At least"), kind=NUMBER, unit="min"),
                Column(name=_("At most"), kind=NUMBER, unit="min"),
                Column(name=_("Rate at most"), kind=NUMBER, unit="°C/min"),
                Column(name=_("Pressure"), kind=NUMBER, unit="kPa"),
                Column(name=_("Either side"), kind=NUMBER, unit="kPa"),
            ),
            rows=tuple(
                (
                    Cell(one.name),
                    Cell(_("ramp") if one.kind == "ramp" else _("soak")),
                    figure(one.target_c),
                    figure(one.tolerance_c),
                    figure(one.min_minutes),
                    figure(one.max_minutes),
                    figure(one.max_rate_c_per_min),
                    figure(one.pressure_kpa),
                    figure(one.pressure_tolerance_kpa),
                )
                for one in recipe.segments
            ),
        )
