"""Rings, welds, films and vanes as sheets: what stands on the pages and in their files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.kit.cutoff import Snapshot, cut_off
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet, plain
from ringwright.parts.words import PLACE_WORDS
from ringwright.weldmaps.queries import MOST_BREACHES, RingLine, WeldsUnderWay
from ringwright.weldmaps.ring_board import RingBoard
from ringwright.weldmaps.words import WeldWords
from ringwright.welds.card import wire_mm
from ringwright.welds.state import AT_LIMIT, TO_READ, Film, Vane
from ringwright.welds.telling import astray

DASH: Final = "\u2013"
AT_CELL: Final = frozenset({"vanes-fitted", "welds-made", "weld-excavated", "weld-redone"})
"""What the weld cell does."""
Link = Callable[..., str]


@dataclass(frozen=True, slots=True)
class WeldSheets:
    """The sheets in one language; `welders`: whether who welded may be seen."""

    told: WeldWords
    link: Link
    zone: str
    now_us: int
    welders: bool = False
    as_of: str | None = None

    def rings(self, found: WeldsUnderWay) -> Sheet:
        """Every ring with an open weld."""
        _ = self.told.words._
        return Sheet(
            code="rings",
            title=_("Rings with open welds"),
            columns=(
                Column(name=_("Part"), head=True),
                Column(name=_("Product")),
                Column(name=_("Stands")),
                Column(name=_("Welds"), kind=WHOLE),
                Column(name=_("Open"), kind=WHOLE),
                Column(name=_("To read"), kind=WHOLE),
                Column(name=_("At the limit"), kind=WHOLE),
                Column(name=_("Repairs"), kind=WHOLE),
                Column(name=_("Hold")),
            ),
            rows=tuple(self._ring(line) for line in found.rings),
            of=found.of,
        )

    def _ring(self, line: RingLine) -> tuple[Cell, ...]:
        _, ring = self.told.words._, line.ring
        stands = _(PLACE_WORDS.get(line.place, line.place)) if line.place else DASH
        if line.step is not None:
            stands = _("%(place)s, step %(step)s", place=stands, step=line.step)
        repairs = sum(weld.repairs for weld in ring.welds.values())
        return (
            self.part(ring.serial),
            Cell(ring.ruled.product),
            Cell(stands),
            self.count(len(ring.welds)),
            self.count(len(ring.open)),
            self.count(len(ring.in_state(TO_READ))),
            self.count(len(ring.in_state(AT_LIMIT))),
            self.count(repairs),
            Cell(line.hold or DASH),
        )

    def waiting(self, found: WeldsUnderWay) -> Sheet:
        """Every film that waits for its reader, the oldest first."""
        _ = self.told.words._
        return Sheet(
            code="films",
            title=_("Films that wait for their reader, the oldest first"),
            columns=(
                Column(name=_("Film"), head=True),
                Column(name=_("Part")),
                Column(name=_("Taken"), kind=MOMENT),
                Column(name=_("Welds")),
            ),
            rows=tuple(
                (
                    self.film(one.serial, one.film),
                    self.part(one.serial),
                    self.moment(one.taken_us),
                    Cell(", ".join(one.welds)),
                )
                for one in found.films
            ),
        )

    def breaches(self, found: WeldsUnderWay) -> Sheet:
        """Parts that went on without every weld accepted."""
        _ = self.told.words._
        rows = found.breaches
        return Sheet(
            code="breaches",
            title=_("Passed on record without every weld accepted"),
            columns=(
                Column(name=_("Part"), head=True),
                Column(name=_("Product")),
                Column(name=_("Step"), kind=WHOLE),
                Column(name=_("Passed"), kind=MOMENT),
            ),
            rows=tuple(
                (
                    self.part(one.serial),
                    Cell(one.product),
                    self.count(one.step),
                    self.moment(one.end_us),
                )
                for one in rows
            ),
            note=_("at most %(n)s of a product are listed", n=MOST_BREACHES)
            if len(rows) >= MOST_BREACHES
            else "",
        )

    def welds(self, board: RingBoard) -> Sheet:
        """Every weld of a ring: where it stands and what is next."""
        _, plan = self.told.words._, board.plan
        return Sheet(
            code="welds",
            title=_("Every weld of the ring"),
            columns=(
                Column(name=_("Weld"), head=True),
                Column(name=_("Angle"), kind=NUMBER, unit="deg"),
                Column(name=_("State")),
                Column(name=_("Repairs"), kind=WHOLE),
                Column(name=_("Film")),
                Column(name=_("Next")),
            ),
            rows=tuple(
                (
                    Cell(code, code, self.to_weld(board.ring.serial, code)),
                    self.figure(plan.angle_of_weld(code), 1),
                    Cell(self.told.state(weld.state), weld.state),
                    self.count(weld.repairs),
                    self.film(board.ring.serial, weld.film) if weld.film else Cell(DASH),
                    Cell(self.told.next_of(weld)),
                )
                for code, weld in board.ring.welds.items()
            ),
        )

    def films(self, board: RingBoard) -> Sheet:
        """Every film of a ring."""
        _ = self.told.words._
        return Sheet(
            code="films",
            title=_("Every film"),
            columns=(
                Column(name=_("Film"), head=True),
                Column(name=_("Taken"), kind=MOMENT),
                Column(name=_("By")),
                Column(name=_("Finest wire seen")),
                Column(name=_("Welds")),
                Column(name=_("Read by")),
            ),
            rows=tuple(self._film_row(board, one) for one in board.ring.films.values()),
        )

    def _film_row(self, board: RingBoard, film: Film) -> tuple[Cell, ...]:
        _ = self.told.words._
        read_by = film.read_by or (_("waits") if board.due(film) else DASH)
        return (
            self.film(board.ring.serial, film.code),
            self.moment(film.at_us),
            Cell(film.radiographer),
            Cell(self.wire(film.wire)),
            Cell(", ".join(film.welds)),
            Cell(read_by if film.good else _("no verdict: take it again")),
        )

    def wire(self, number: int) -> str:
        """A wire with its diameter."""
        if not number:
            return self.told.words._("none")
        return f"W{number}, {self.told.show.decimal(wire_mm(number), 2)} mm"

    def vanes(self, board: RingBoard) -> Sheet:
        """Where every vane stands, against the drawing and its tolerance."""
        _, plan, show = self.told.words._, board.plan, self.told.show
        return Sheet(
            code="vanes",
            title=_("Where the vanes stand, from the drawing"),
            columns=(
                Column(name=_("Vane"), kind=WHOLE, head=True),
                Column(name=_("Outward"), kind=NUMBER, unit="mm"),
                Column(name=_("Forward"), kind=NUMBER, unit="mm"),
                Column(name=_("Within tolerance")),
                Column(name=_("Read"), kind=MOMENT),
                Column(name=_("By")),
                Column(name=_("Gauge")),
            ),
            rows=tuple(
                self._vane(board, number, board.ring.vanes.get(number))
                for number in range(1, plan.vanes + 1)
            ),
            note=_(
                "at most %(radial)s mm outward or inward, %(axial)s mm forward or rearward",
                radial=show.decimal(plan.radial_mm, 2),
                axial=show.decimal(plan.axial_mm, 2),
            ),
        )

    def _vane(self, board: RingBoard, number: int, vane: Vane | None) -> tuple[Cell, ...]:
        _, show = self.told.words._, self.told.show
        name = Cell(show.count(number), number)
        if vane is None:
            return (name, Cell(DASH), Cell(DASH), Cell(_("not fitted")), *[Cell(DASH)] * 3)
        return (
            name,
            Cell(show.reading(vane.radial_mm, 2), vane.radial_mm),
            Cell(show.reading(vane.axial_mm, 2), vane.axial_mm),
            Cell(_("no") if astray(board.plan, vane) else _("yes")),
            self.moment(vane.at_us),
            Cell(self.who(vane.by, "vanes-fitted")),
            Cell(vane.gauge or DASH),
        )

    def book_of_all(self, found: WeldsUnderWay, drawn: Snapshot) -> Book:
        """The page of all rings as files."""
        sheets = (self.rings(found), self.waiting(found), self.breaches(found))
        question = self.told.words._(
            "Which rings have an open weld, and which film waits for its reader?"
        )
        return self._book("welds", question, self.told.all_rings(found), drawn, sheets)

    def book(self, board: RingBoard) -> Book:
        """One ring as files."""
        sheets = (self.welds(board), self.films(board), self.vanes(board))
        question = self.told.words._("Which welds of this ring are accepted, and what is next?")
        name = f"welds-{plain(board.ring.serial)[:60]}"
        return self._book(name, question, self.told.ring(board), board.drawn, sheets)

    def _book(
        self, name: str, question: str, answer: str, drawn: Snapshot, sheets: Sequence[Sheet]
    ) -> Book:
        return Book(
            page=name,
            question=question,
            answer=answer,
            filters=(),
            cut_off=cut_off(drawn, self.told.words, self.told.show),
            zone=drawn.zone,
            at_us=drawn.now_us,
            sheets=tuple(sheets),
        )

    def who(self, code: str, kind: str) -> str:
        """Who did it; of work at the weld cell, only for those who judge welds."""
        hidden = kind in AT_CELL and not self.welders
        return self.told.words._("the weld cell") if hidden else code

    def part(self, serial: str) -> Cell:
        """A part, leading to its weld map."""
        link = self.link("weldmaps.ring", serial=serial, as_of=self.as_of)
        return Cell(serial, serial, link)

    def to_weld(self, serial: str, weld: str) -> str:
        """Where a weld's story stands."""
        return self.link("weldmaps.weld", serial=serial, weld=weld, as_of=self.as_of)

    def film(self, serial: str, film: str) -> Cell:
        """A film, leading to its page."""
        link = self.link("weldmaps.film", serial=serial, film=film, as_of=self.as_of)
        return Cell(film, film, link)

    def count(self, value: int) -> Cell:
        """A count."""
        return Cell(self.told.show.count(value), value)

    def figure(self, value: float, places: int) -> Cell:
        """A measured figure."""
        return Cell(self.told.show.decimal(value, places), value)

    def moment(self, us: int) -> Cell:
        """An instant."""
        return Cell(self.told.show.moment(us, self.zone, self.now_us), us)
