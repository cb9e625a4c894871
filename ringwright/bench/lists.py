"""What waits for a sentence, as a sheet: the table on the page and the file made from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from ringwright.bench.queries import OpenNonconformity
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read

MINUTE_US: Final = 60_000_000

Link = Callable[..., str]


class WaitingList:
    """The list in one language, its links by route."""

    def __init__(self, words: Words, show: Figures, link: Link, zone: str) -> None:
        self.words, self.show, self.link, self.zone = words, show, link, zone

    def sheet(
        self, waiting: Sequence[OpenNonconformity], now_us: int, opened: int | None = None
    ) -> Sheet:
        """The oldest first; each number opens its nonconformity but the one that is open."""
        _ = self.words._
        return Sheet(
            code="waiting",
            title=_("Waiting, the oldest first"),
            columns=(
                Column(name=_("Number"), kind=WHOLE, head=True),
                Column(name=_("Part")),
                Column(name=_("Product")),
                Column(name=_("What is wrong")),
                Column(name=_("Found at step")),
                Column(name=_("Since"), kind=MOMENT),
                Column(name=_("By")),
                Column(name=_("Priority")),
            ),
            rows=tuple(self._row(one, now_us, opened) for one in waiting),
        )

    def _row(self, one: OpenNonconformity, now_us: int, opened: int | None) -> tuple[Cell, ...]:
        leads = "" if one.number == opened else self._opens(one)
        return (
            Cell(self.show.count(one.number), one.number, link=leads),
            Cell(one.serial, link=self.link("bench.page", scan=one.serial)),
            Cell(one.product),
            Cell(", ".join(text for text in (one.defect, one.place_on_part) if text)),
            Cell(str(one.found_step) if one.found_step is not None else NOTHING),
            Cell(self.show.moment(one.opened_us, self.zone, now_us), one.opened_us),
            Cell(one.opened_by),
            Cell(self.words._("goes first") if one.priority else ""),
        )

    def _opens(self, one: OpenNonconformity) -> str:
        return self.link("bench.nonconformities", open=one.number)

    def book(self, read: Read, waiting: Sequence[OpenNonconformity]) -> Book:
        """The list as a book, as it stands."""
        _, show = self.words._, self.show
        drawn = snapshot_of(read, to_the_minute=True)
        sheet = self.sheet(waiting, drawn.now_us)
        name = read.site.name or read.site.code
        return Book(
            page="nonconformities",
            question=_("What waits for a sentence?"),
            answer=self.words.ngettext(
                "%(n)s nonconformity waits", "%(n)s nonconformities wait",
                len(waiting), n=show.count(len(waiting)),
            ),
            filters=((_("Site"), name),),
            cut_off=cut_off(drawn, self.words, show),
            zone=self.zone,
            at_us=drawn.now_us,
            sheets=(sheet,),
        )  # fmt: skip
