"""Lots and alloys as sheets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.kit.charts import Scale
from ringwright.kit.numbers import NOTHING
from ringwright.kit.sheets import NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.material.card import USES, Alloy, Lot
from ringwright.swarf.lots import LotsSheet
from ringwright.swarf.queries import Went
from ringwright.swarf.sheets import MassLists
from ringwright.swarf.words import USES as USE_WORDS

SHOWN: Final = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class UseBar:
    """A permitted use and the parts of such lots."""

    name: str
    parts: int
    width: float
    recorded: bool
    y: int


class LotLists(MassLists):
    """The sheets of lots in one language."""

    def lots_answer(self, sheet: LotsSheet) -> str:
        """The lots in one sentence."""
        _, show = self.words._, self.show
        if sheet.breaches:
            parts = sum(one.parts for one in sheet.breaches)
            return self.words.ngettext(
                "%(n)s part is of a lot that is not permitted for it",
                "%(n)s parts are of lots that are not permitted for them",
                parts, n=show.count(parts),
            )  # fmt: skip
        loose = len({one.lot for one in sheet.unrecorded})
        if loose:
            return self.words.ngettext(
                "Of %(n)s lot in use the permitted use is not recorded",
                "Of %(n)s lots in use the permitted use is not recorded",
                loose, n=show.count(loose),
            )  # fmt: skip
        if not sheet.lots:
            return _("No lot is registered yet")
        return _("Every part is of a lot that is permitted for it")

    def lots(self, sheet: LotsSheet, most: int | None = None) -> Sheet:
        """The registered lots: those melted from our own swarf first, then by code."""
        _ = self.words._
        rows = sorted(sheet.listed, key=lambda lot: lot.code, reverse=True)
        rows.sort(key=lambda lot: not lot.containers)
        return Sheet(
            code="lots",
            title=_("Registered lots"),
            columns=(
                Column(name=_("lot"), head=True),
                Column(name=_("alloy")),
                Column(name=_("heat")),
                Column(name=_("certificate")),
                Column(name=_("permitted for")),
                Column(name=_("melted from")),
                Column(name=_("parts"), kind=WHOLE),
                Column(name=_("of")),
                Column(name=_("note")),
            ),
            rows=tuple(self._lot(sheet, one) for one in rows[:most]),
            of=len(rows),
        )

    def _lot(self, sheet: LotsSheet, lot: Lot) -> tuple[Cell, ...]:
        _, went = self.words._, sheet.of(lot.code)
        parts = sum(one.parts for one in went)
        of = ", ".join(one.product for one in went)
        source = ", ".join(lot.containers)
        link = self.link("swarf.container", container=lot.containers[0]) if source else ""
        return (
            Cell(lot.code, lot.code, self.link("trace.touched", lot=lot.code)),
            Cell(lot.alloy),
            Cell(lot.heat or NOTHING, lot.heat),
            Cell(lot.certificate or NOTHING, lot.certificate),
            Cell(_(USE_WORDS[lot.use])),
            Cell(source or NOTHING, source, link),
            Cell(self.show.count(parts), parts),
            Cell(of or NOTHING, of),
            Cell(lot.note or NOTHING, lot.note),
        )

    def went(self, code: str, title: str, sheet: LotsSheet, most: int | None = None) -> Sheet:
        """Lots on parts that need a look: `breaches` or `unrecorded`."""
        _, rows = self.words._, getattr(sheet, code)
        return Sheet(
            code=code,
            title=title,
            columns=(
                Column(name=_("lot"), head=True),
                Column(name=_("product")),
                Column(name=_("kind of part")),
                Column(name=_("permitted for")),
                Column(name=_("parts"), kind=WHOLE),
                Column(name=_("the first of them")),
            ),
            rows=tuple(self._went(sheet, one) for one in rows[:most]),
            of=len(rows),
        )

    def _went(self, sheet: LotsSheet, one: Went) -> tuple[Cell, ...]:
        _, lot = self.words._, sheet.by_code.get(one.lot)
        return (
            Cell(one.lot, one.lot, self.link("trace.touched", lot=one.lot)),
            Cell(one.product),
            Cell(_("rotating") if sheet.turns(one.product) else _("static")),
            Cell(_(USE_WORDS[lot.use]) if lot else _("not recorded")),
            Cell(self.show.count(one.parts), one.parts),
            Cell(one.first, one.first, self.link("trace.part", serial=one.first)),
        )

    def alloy_sheet(self, sheet: LotsSheet) -> Sheet:
        """The alloys of the shop."""
        _ = self.words._
        return Sheet(
            code="alloys",
            title=_("Alloys"),
            columns=(
                Column(name=_("alloy"), head=True),
                Column(name=_("name")),
                Column(name=_("density"), kind=NUMBER, unit="g/cm³"),
                Column(name=_("products")),
                Column(name=_("state")),
            ),
            rows=tuple(map(self._alloy, sheet.alloys)),
        )

    def _alloy(self, one: Alloy) -> tuple[Cell, ...]:
        _, products = self.words._, ", ".join(one.products)
        return (
            Cell(one.code),
            Cell(one.name or NOTHING, one.name),
            Cell(self.show.decimal(one.density_g_cm3, 3), one.density_g_cm3),
            Cell(products or NOTHING, products),
            Cell(_("out of use") if one.withdrawn else _("in use")),
        )

    def uses(self, sheet: LotsSheet) -> list[UseBar]:
        """Parts by what their lot may be used for, the strictest first, then not recorded."""
        parts = dict.fromkeys((*USES, ""), 0)
        for one in sheet.went:
            lot = sheet.by_code.get(one.lot)
            parts[lot.use if lot else ""] += one.parts
        scale = Scale(0.0, float(max(*parts.values(), 1)), 0.0, 60.0)
        return [
            UseBar(
                name=self.words._(USE_WORDS[use]) if use else self.words._("not recorded"),
                parts=count,
                width=scale(float(count)),
                recorded=bool(use),
                y=place * 34,
            )
            for place, (use, count) in enumerate(parts.items())
        ]

    def lots_book(self, sheet: LotsSheet) -> Book:
        """The page as a book."""
        _ = self.words._
        return self.bound(
            "case-lots",
            (_("Is every part made of what it may be made of?"), self.lots_answer(sheet)),
            (),
            sheet.drawn,
            (
                self.lots(sheet),
                self.went("breaches", _("Not permitted for what they became"), sheet),
                self.went("unrecorded", _("Permitted use not recorded"), sheet),
                self.alloy_sheet(sheet),
            ),
        )
