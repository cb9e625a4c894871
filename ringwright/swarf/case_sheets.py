"""One case as sheets: from weighing to weighing, its swarf, what was put on it."""

from __future__ import annotations

from ringwright.kit.cutoff import Snapshot
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.massing.swarf import dry
from ringwright.swarf.model import Batch, Case, Stage
from ringwright.swarf.sheets import MassLists
from ringwright.swarf.words import KINDS


class CaseLists(MassLists):
    """The sheets of one case in one language."""

    def case_answer(self, case: Case) -> str:
        """One case in one sentence."""
        _ = self.words._
        if not case.weighed:
            return _("%(serial)s was not weighed yet", serial=case.serial)
        if case.closing is None:
            return _(
                "%(serial)s: %(kg)s kg in; the account begins with the next weighing",
                serial=case.serial, kg=self.told.kg(case.weighed[0].mass.kg),
            )  # fmt: skip
        return self.told.closing(case.closing)

    def stages(self, case: Case) -> Sheet:
        """From weighing to weighing."""
        _ = self.words._
        return Sheet(
            code="stages",
            title=_("From weighing to weighing"),
            columns=(
                Column(name=_("weighed at"), head=True),
                Column(name=_("before"), kind=NUMBER, unit="kg"),
                Column(name=_("put on"), kind=NUMBER, unit="kg"),
                Column(name=_("swarf, dry"), kind=NUMBER, unit="kg"),
                Column(name=_("after"), kind=NUMBER, unit="kg"),
                Column(name=_("missing"), kind=NUMBER, unit="kg"),
                Column(name=_("account")),
                Column(name=_("when"), kind=MOMENT),
                Column(name=_("scale")),
            ),
            rows=tuple(map(self._stage, case.stages)),
        )

    def _stage(self, one: Stage) -> tuple[Cell, ...]:
        kg, at_us = self.told.kg, one.after.at_us
        put = sum(piece.kg for piece in one.put)
        swarf = sum(mass.kg for mass in one.closing.by_kind.values())
        point = one.after.point
        return (
            Cell(f"{point.step} {point.name}"),
            Cell(kg(one.before.mass.kg), one.before.mass.kg),
            Cell(kg(put), put),
            Cell(kg(swarf), swarf),
            Cell(kg(one.after.mass.kg), one.after.mass.kg),
            Cell(self.told.rest(one.closing), one.closing.unaccounted.kg),
            Cell(self.told.closes(one.closing)),
            Cell(self.show.full(at_us, self.zone), at_us),
            Cell(self._scale(one.after.gauge, one.after.suspect)),
        )

    def _scale(self, gauge: str, suspect: bool) -> str:
        name = gauge or self.words._("not named")
        return self.words._("%(gauge)s, suspect", gauge=name) if suspect else name

    def batches(self, case: Case) -> Sheet:
        """Every lot of swarf of a case."""
        _ = self.words._
        return Sheet(
            code="swarf",
            title=_("Its swarf"),
            columns=(
                Column(name=_("when"), kind=MOMENT, head=True),
                Column(name=_("step"), kind=WHOLE),
                Column(name=_("container")),
                Column(name=_("kind")),
                Column(name=_("as weighed"), kind=NUMBER, unit="kg"),
                Column(name=_("moisture"), kind=NUMBER, unit="%"),
                Column(name=_("dry"), kind=NUMBER, unit="kg"),
                Column(name=_("clean or mixed")),
                Column(name=_("by")),
            ),
            rows=tuple(map(self._batch, case.batches)),
        )

    def _batch(self, one: Batch) -> tuple[Cell, ...]:
        _, line = self.words._, one.line
        where = self.link("swarf.container", container=one.container)
        share, metal = one.swarf.moisture.fraction, dry([one.swarf]).kg
        return (
            Cell(self.show.full(line.at_us, self.zone), line.at_us),
            Cell(self.show.count(line.step), line.step),
            Cell(one.container, one.container, where),
            Cell(_(KINDS[one.swarf.kind])),
            Cell(self.told.kg(line.kg), line.kg),
            Cell(self.show.bare_percent(share), 100 * share),
            Cell(self.told.kg(metal), metal),
            Cell(_("clean") if one.swarf.clean else _("mixed")),
            Cell(line.actor),
        )

    def put(self, case: Case) -> Sheet:
        """What was put on a case."""
        _ = self.words._
        return Sheet(
            code="put-on",
            title=_("What was put on it"),
            columns=(
                Column(name=_("entry"), head=True),
                Column(name=_("step"), kind=WHOLE),
                Column(name=_("what")),
                Column(name=_("mass"), kind=NUMBER, unit="kg"),
                Column(name=_("by")),
            ),
            rows=tuple(
                (
                    Cell(self.show.count(one.number), one.number),
                    Cell(self.show.count(one.step), one.step),
                    Cell(one.what),
                    Cell(self.told.kg(one.kg, 2), one.kg),
                    Cell(one.actor),
                )
                for one in case.put
            ),
        )

    def case_book(self, case: Case, drawn: Snapshot) -> Book:
        """One case as a book."""
        _ = self.words._
        account = () if case.closing is None else (self.figures(case.closing),)
        return self.bound(
            "case-mass-one",
            (_("What became of this forging?"), self.case_answer(case)),
            [(_("part"), case.serial)],
            drawn,
            (*account, self.stages(case), self.batches(case), self.put(case)),
        )
