"""Swarf containers as sheets, and as bars of what is in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.facts import Entry
from ringwright.kit.charts import Scale
from ringwright.kit.numbers import NOTHING
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.massing.swarf import dry
from ringwright.material.rules import Line
from ringwright.swarf.containers import ContainerSheet, ContainersSheet, Held
from ringwright.swarf.model import batch_of
from ringwright.swarf.queries import Went
from ringwright.swarf.sheets import MassLists
from ringwright.swarf.words import ENTRIES, KINDS, STATES

ROW: Final = 34
MASSES: Final = ("net_kg", "full_kg", "tare_kg", "kg")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A container and how much is in it."""

    held: Held
    y: int
    width: float


class ContainerLists(MassLists):
    """The sheets of containers in one language."""

    def containers_answer(self, sheet: ContainersSheet) -> str:
        """The containers in one sentence."""
        _, show = self.words._, self.show
        if sheet.held:
            return self.words.ngettext(
                "%(n)s container was found mixed and waits for a decision",
                "%(n)s containers were found mixed and wait for a decision",
                len(sheet.held), n=show.count(len(sheet.held)),
            )  # fmt: skip
        if not sheet.here:
            return _("No swarf container is here")
        sealed = len(sheet.here) - len(sheet.open)
        return _(
            "%(open)s open for swarf, %(sealed)s sealed and waiting to leave",
            open=show.count(len(sheet.open)), sealed=show.count(sealed),
        )  # fmt: skip

    def bars(self, sheet: ContainersSheet) -> tuple[Bar, ...]:
        """What is in the containers that are here."""
        most = max((one.booked.kg for one in sheet.here), default=0.0)
        scale = Scale(0.0, most or 1.0, 0.0, 60.0)
        return tuple(
            Bar(held=one, y=place * ROW, width=max(0.2, scale(one.booked.kg)))
            for place, one in enumerate(sheet.here)
        )

    def containers(self, code: str, title: str, held: tuple[Held, ...]) -> Sheet:
        """Some containers."""
        _ = self.words._
        return Sheet(
            code=code,
            title=title,
            columns=(
                Column(name=_("container"), head=True),
                Column(name=_("alloy")),
                Column(name=_("kind")),
                Column(name=_("clean or mixed")),
                Column(name=_("state")),
                Column(name=_("place")),
                Column(name=_("booked"), kind=NUMBER, unit="kg"),
                Column(name=_("dry"), kind=NUMBER, unit="kg"),
                Column(name=_("weighed"), kind=NUMBER, unit="kg"),
                Column(name=_("destination")),
                Column(name=_("paper")),
                Column(name=_("lot")),
            ),
            rows=tuple(map(self._container, held)),
        )

    def _container(self, one: Held) -> tuple[Cell, ...]:
        _, kg, container = self.words._, self.told.kg, one.container
        where = self.link("swarf.container", container=container.code)
        inside = one.inside.kg if one.inside else None
        return (
            Cell(container.code, container.code, where),
            Cell(container.alloy or _("mixed")),
            Cell(_(KINDS[container.swarf])),
            Cell(self.told.cleanness(container)),
            Cell(_("held") if container.held else _(STATES[container.state])),
            Cell(container.place or NOTHING, container.place),
            Cell(kg(one.booked.kg), one.booked.kg),
            Cell(kg(one.dry.kg), one.dry.kg),
            Cell(kg(inside), inside),
            Cell(container.to or NOTHING, container.to),
            Cell(container.paper or NOTHING, container.paper),
            Cell(container.lot or NOTHING, container.lot),
        )

    def containers_book(self, sheet: ContainersSheet) -> Book:
        """The page as a book."""
        _ = self.words._
        return self.bound(
            "case-containers",
            (_("Where is our swarf, and is it clean?"), self.containers_answer(sheet)),
            (),
            sheet.drawn,
            (
                self.containers("here", _("Containers here"), sheet.here),
                self.containers("gone", _("Left in the last eight weeks"), sheet.gone),
            ),
        )

    def container_answer(self, sheet: ContainerSheet) -> str:
        """One container in one sentence."""
        _, one = self.words._, sheet.held.container
        told = {"code": one.code, "kg": self.told.kg(sheet.held.booked.kg)}
        if one.held:
            return _("%(code)s is held: found mixed, %(kg)s kg in it", **told)
        if one.state == "sent":
            return _("%(code)s went to %(to)s with %(kg)s kg", to=one.to, **told)
        if one.lot:
            return _("%(code)s came back as lot %(lot)s", code=one.code, lot=one.lot)
        if one.state == "sealed":
            return _("%(code)s is sealed with %(kg)s kg", **told)
        return _("%(code)s is open, %(kg)s kg in it", **told)

    def contents(self, sheet: ContainerSheet) -> Sheet:
        """What was put in, by part and step."""
        _ = self.words._
        return Sheet(
            code="contents",
            title=_("What is in it"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("step"), kind=WHOLE),
                Column(name=_("as weighed"), kind=NUMBER, unit="kg"),
                Column(name=_("dry"), kind=NUMBER, unit="kg"),
                Column(name=_("scale")),
                Column(name=_("when"), kind=MOMENT),
                Column(name=_("by")),
                Column(name=_("entry"), kind=WHOLE),
            ),
            rows=tuple(self._line(sheet, one) for one in sheet.held.container.lines),
        )

    def _line(self, sheet: ContainerSheet, line: Line) -> tuple[Cell, ...]:
        metal = dry([batch_of(sheet.held.container, line).swarf]).kg
        return (
            Cell(line.serial, line.serial, self.link("swarf.case", serial=line.serial)),
            Cell(self.show.count(line.step), line.step),
            Cell(self.told.kg(line.kg), line.kg),
            Cell(self.told.kg(metal), metal),
            Cell(line.gauge or NOTHING, line.gauge),
            Cell(self.show.full(line.at_us, self.zone), line.at_us),
            Cell(line.actor),
            Cell(self.show.count(line.number), line.number),
        )

    def entries(self, sheet: ContainerSheet) -> Sheet:
        """Everything that was booked on it, corrections too."""
        _ = self.words._
        return Sheet(
            code="entries",
            title=_("Everything booked on it"),
            columns=(
                Column(name=_("entry"), head=True),
                Column(name=_("what")),
                Column(name=_("mass"), kind=NUMBER, unit="kg"),
                Column(name=_("of")),
                Column(name=_("reason")),
                Column(name=_("when"), kind=MOMENT),
                Column(name=_("by")),
            ),
            rows=tuple(map(self._entry, sheet.entries)),
        )

    def _entry(self, entry: Entry) -> tuple[Cell, ...]:
        _, data = self.words._, entry.data
        mass = next((data[name] for name in MASSES if data.get(name) is not None), None)
        of = data.get("serial") or data.get("to") or data.get("lot") or ""
        if entry.corrects is not None:
            of = _("entry %(n)s", n=self.show.count(entry.corrects))
        return (
            Cell(self.show.count(entry.seq), entry.seq),
            Cell(_(ENTRIES[entry.kind])),
            Cell(self.told.kg(mass), mass),
            Cell(of or NOTHING, of),
            Cell(data.get("reason") or NOTHING, data.get("reason")),
            Cell(self.show.full(entry.at_us, self.zone), entry.at_us),
            Cell(entry.actor),
        )

    def went(self, went: tuple[Went, ...]) -> Sheet:
        """The products that parts of the lot are."""
        _ = self.words._
        return Sheet(
            code="went",
            title=_("Parts made of that lot"),
            columns=(
                Column(name=_("product"), head=True),
                Column(name=_("parts"), kind=WHOLE),
                Column(name=_("the first of them")),
            ),
            rows=tuple(
                (
                    Cell(one.product),
                    Cell(self.show.count(one.parts), one.parts),
                    Cell(one.first, one.first, self.link("trace.part", serial=one.first)),
                )
                for one in went
            ),
        )

    def container_book(self, sheet: ContainerSheet) -> Book:
        """One container as a book."""
        _ = self.words._
        return self.bound(
            "case-container",
            (_("What is in this container, and where does it go?"),
             self.container_answer(sheet)),
            [(_("container"), sheet.held.container.code)],
            sheet.drawn,
            (self.contents(sheet), self.entries(sheet), self.went(sheet.went)),
        )  # fmt: skip
