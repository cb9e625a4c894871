"""The spread as sheets: every characteristic, its indices, the readings of the chosen one."""

from __future__ import annotations

from typing import Final

from ringwright.core.glossary import N_
from ringwright.flow.account_words import span_line
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.spread.board import RULES, Link, SpreadWords
from ringwright.spread.queries import ALL, CELL, EVERY, LATEST, STOCK, Spread, SpreadSheet

AMONG: Final = (
    (ALL, N_("all parts")),
    (CELL, N_("parts in the cell")),
    (STOCK, N_("finished stock")),
)
COUNTS: Final = (
    (LATEST, N_("the latest reading of each part")),
    (EVERY, N_("every reading")),
)


class SpreadLists:
    """The sheets in one language."""

    def __init__(self, words: Words, show: Figures, link: Link) -> None:
        self.words, self.show, self.link = words, show, link
        self.told = SpreadWords(words, show)

    def all(self, sheet: SpreadSheet) -> Sheet:
        """Every characteristic of the product."""
        _ = self.words._
        return Sheet(
            code="characteristics",
            title=_("Characteristics of %(product)s", product=sheet.card.product),
            columns=(
                Column(name=_("characteristic"), head=True),
                Column(name=_("what stands out")),
                Column(name=_("step")),
                Column(name=_("unit")),
                Column(name=_("parts"), kind=WHOLE),
                Column(name=_("mean"), kind=NUMBER),
                Column(name=_("standard deviation"), kind=NUMBER),
                Column(name=_("outside"), kind=WHOLE),
                Column(name="Cpk"),
                Column(name="Ppk"),
            ),
            rows=tuple(self._row(one, sheet) for one in sheet.spreads),
        )

    def _row(self, one: Spread, sheet: SpreadSheet) -> tuple[Cell, ...]:
        show, item, found = self.show, one.characteristic, one.capability
        product = sheet.card.product
        link = self.link("spread.page", product=product, of=one.key, **sheet.asked.kept)
        mean = one.chart.mean if one.chart else None
        sigma = found.sigma if found else None
        outside = sum(not item.inside(point.value) for point in one.points)
        return (
            Cell(item.code.replace("_", " "), item.code, link),
            Cell(self.told.standing(one)),
            Cell(f"{one.step.number} {one.step.name}"),
            Cell(show.unit(item.unit)),
            Cell(show.count(len(one.points)), len(one.points)),
            Cell(show.decimal(mean, item.decimals + 1), mean),
            Cell(show.standard(sigma), sigma),
            Cell(show.count(outside), outside),
            Cell(self.told.index(one, "Cpk"), _value(one, "Cpk")),
            Cell(self.told.index(one, "Ppk"), _value(one, "Ppk")),
        )

    def indices(self, one: Spread) -> Sheet:
        """The indices of one characteristic with their intervals."""
        _, show = self.words._, self.show
        found = one.capability.indices if one.capability else ()
        about = {
            "Cp": _("tolerance over spread, short-term"),
            "Cpk": _("nearest limit, short-term"),
            "Pp": _("tolerance over spread, all readings"),
            "Ppk": _("nearest limit, all readings"),
        }
        return Sheet(
            code="indices",
            title=_("Capability, with 95 %% intervals"),
            columns=(
                Column(name=_("index"), head=True),
                Column(name=_("what it compares")),
                Column(name=_("value"), kind=NUMBER),
                Column(name=_("from"), kind=NUMBER),
                Column(name=_("to"), kind=NUMBER),
            ),
            rows=tuple(
                (
                    Cell(index.name),
                    Cell(about[index.name]),
                    Cell(show.decimal(index.value, 2), index.value),
                    Cell(show.decimal(index.low, 2), index.low),
                    Cell(show.decimal(index.high, 2), index.high),
                )
                for index in found
            ),
        )

    def readings(self, one: Spread, sheet: SpreadSheet, most: int | None = None) -> Sheet:
        """The readings that count, the newest first; `most` of them where a screen asks."""
        _, show, drawn = self.words._, self.show, sheet.drawn
        item = one.characteristic
        flags = one.chart.flags if one.chart else {}
        first = 0 if most is None else max(0, len(one.points) - most)
        rows = [
            (
                Cell(point.serial, point.serial, self.link("trace.part", serial=point.serial)),
                Cell(show.reading(point.value, item.decimals), point.value),
                Cell(show.standard(point.uncertainty), point.uncertainty),
                Cell(show.moment(point.at_us, drawn.zone, drawn.now_us), point.at_us),
                Cell(point.gauge or NOTHING, point.gauge),
                Cell(_("inside") if item.inside(point.value) else _("outside")),
                Cell(", ".join(_(RULES[rule]) for rule in flags.get(place, ())) or NOTHING),
            )
            for place, point in enumerate(one.points[first:], start=first)
        ][::-1]
        return Sheet(
            code="readings",
            title=_("Readings, the newest first"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("value"), kind=NUMBER, unit=item.unit),
                Column(name=_("standard uncertainty"), kind=NUMBER),
                Column(name=_("read at"), kind=MOMENT),
                Column(name=_("gauge")),
                Column(name=_("judged")),
                Column(name=_("what stands out")),
            ),
            rows=tuple(rows),
            of=len(one.points),
        )

    def book(self, sheet: SpreadSheet) -> Book:
        """The page as a book."""
        _ = self.words._
        sheets = [self.all(sheet)]
        if sheet.chosen is not None:
            sheets += [self.indices(sheet.chosen), self.readings(sheet.chosen, sheet)]
        return Book(
            page="spread",
            question=_("How do readings spread, and does one drift?"),
            answer=self.told.answer(sheet),
            filters=(
                (_("Site"), sheet.drawn.site_name or sheet.drawn.site),
                (_("product"), sheet.card.product),
                *self._narrowed(sheet),
            ),
            cut_off=cut_off(sheet.drawn, self.words, self.show),
            zone=sheet.drawn.zone,
            at_us=sheet.drawn.now_us,
            sheets=tuple(sheets),
            reconciliation=self._accounts(sheet),
        )

    def _narrowed(self, sheet: SpreadSheet) -> tuple[tuple[str, str], ...]:
        """Which parts and readings are looked at."""
        _, asked, chosen = self.words._, sheet.asked, sheet.chosen
        pairs = (
            (_("characteristic"), chosen.characteristic.code if chosen else ""),
            (_("which parts"), _(dict(AMONG)[asked.among])),
            (_("at most the latest"), self.show.count(asked.last)),
            (_("what counts"), _(dict(COUNTS)[asked.counts])),
            (_("since"), asked.since),
        )
        return tuple(pair for pair in pairs if pair[1])

    def _accounts(self, sheet: SpreadSheet) -> tuple[str, ...]:
        """Readings read and left out; every part since the oldest of these readings."""
        _, show, zone = self.words._, self.show, sheet.drawn.zone
        shown = sum(len(one.points) for one in sheet.spreads)
        suspect = sum(one.suspect for one in sheet.spreads)
        told = _(
            "%(all)s readings looked at = %(shown)s counted + %(suspect)s suspect, left out",
            all=show.count(shown + suspect),
            shown=show.count(shown),
            suspect=show.count(suspect),
        )
        if sheet.account is None or sheet.since_us is None:
            return (told,)
        span = (sheet.since_us, sheet.drawn.now_us + 1)
        of = (sheet.card.product, zone)
        return (told, span_line(of, span, sheet.account, (self.words, show)))


def _value(one: Spread, name: str) -> float | None:
    found = one.capability.index(name) if one.capability else None
    return found.value if found else None
