"""A set's pages in words and geometry: pure, from one sheet."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from ringwright.balance.vectors import Measured
from ringwright.core.glossary import N_
from ringwright.flow.answer import Piece
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.sets.figures import G_MM, Manner, moment_places, plus_minus
from ringwright.sets.ring import Hub, Pair, RingDrawing, draw_pairs, draw_ring
from ringwright.sets.set_model import SetSheet

STATES = {
    "proposed": N_("proposed"),
    "reserved": N_("reserved"),
    "handed over": N_("handed over"),
    "fitted": N_("fitted"),
    "sent": N_("sent"),
    "given back": N_("given back"),
}
FACTS = {
    "propose": N_("proposed"),
    "reserve": N_("reserved"),
    "mend": N_("mended"),
    "give-back": N_("given back"),
    "hand-over": N_("handed over"),
    "fit": N_("blade fitted"),
    "return": N_("blade taken out"),
    "weigh-in": N_("weights placed"),
    "send": N_("sent"),
}
FEW_PAIRS = 24


@dataclass(frozen=True, kw_only=True)
class SetBoard:
    """What the page of a set prints."""

    answer: tuple[Piece, ...]
    ring: RingDrawing
    pairs: tuple[Pair, ...]
    odd: bool
    places: int
    u95_text: str
    share_text: str
    described: str
    figures: tuple[tuple[str, str], ...]
    """(name, figure with its unit)."""
    compared: str
    foot: str
    book: Book


class Boards:
    """The board of a sheet in one language."""

    def __init__(self, sheet: SetSheet, words: Words, show: Figures) -> None:
        self.sheet, self.words, self.show = sheet, words, show
        moments = [blade.moment_g_mm for blade in sheet.pool.blades]
        doubt = sheet.doubt
        self.manner = Manner(
            words, show, moment_places(moments), None if doubt is None else doubt.p95_g_mm
        )

    def board(self, *, planned: bool = False) -> SetBoard:
        """Everything the page prints; the ring as planned where that is asked."""
        sheet = self.sheet
        seats = sheet.planned_seats() if planned else sheet.seats()
        hub = self._hub(sheet.measured if planned else sheet.expected)
        pairs = draw_pairs(seats)
        book = self.book()
        return SetBoard(
            answer=self.answer,
            ring=draw_ring(seats, hub, clockwise=sheet.rotor.clockwise),
            pairs=pairs[:FEW_PAIRS],
            odd=len(seats) % 2 == 1,
            places=self.manner.places,
            u95_text=plus_minus(self.manner.u95_g_mm, self.show),
            share_text=self._share(),
            described="".join(piece.text for piece in self.answer),
            figures=tuple(self.figures()),
            compared=self.compared(),
            foot=cut_off(sheet.snapshot, self.words, self.show),
            book=book,
        )

    def _hub(self, measured: Measured | None) -> Hub:
        doubt = self.sheet.doubt
        return Hub(
            residual=None if measured is None else measured.residual,
            u95_g_mm=None if doubt is None else doubt.p95_g_mm,
            share_g_mm=self.sheet.rotor.share_g_mm if doubt is not None else None,
        )

    def _share(self) -> str:
        share = self.sheet.rotor.share_g_mm
        if share is None or self.sheet.doubt is None:
            return ""
        return self.words._("share %(figure)s", figure=self.show.decimal(share, 0))

    @cached_property
    def answer(self) -> tuple[Piece, ...]:
        """The state in one sentence, then what needs a person."""
        sheet, found, _ = self.sheet, self.sheet.found, self.words._
        count = self.show.count
        if found.state == "handed over" and found.fitted:
            first = _(
                "%(code)s: %(done)s out of %(all)s blades fitted",
                code=found.code,
                done=count(len(found.fitted)),
                all=count(len(found.slots)),
            )
        else:
            first = _("%(code)s is %(state)s", code=found.code, state=_(STATES[found.state]))
        pieces = [Piece(text=first, needs=False)]
        if sheet.lacking:
            n = len(sheet.lacking)
            text = self.words.ngettext("lacks %(n)s blade", "lacks %(n)s blades", n, n=count(n))
            pieces += [Piece(text="; ", needs=False), Piece(text=text, needs=True)]
        if sheet.misplaced:
            n = len(sheet.misplaced)
            text = self.words.ngettext(
                "%(n)s blade stands in another slot",
                "%(n)s blades stand in other slots",
                n,
                n=count(n),
            )
            pieces += [Piece(text="; ", needs=False), Piece(text=text, needs=True)]
        return (*pieces, Piece(text=".", needs=False))

    def figures(self) -> list[tuple[str, str]]:
        """The set's figures, planned and as it will stand where that differs."""
        _, sheet = self.words._, self.sheet
        planned, expected = sheet.measured, sheet.expected
        if planned is None:
            return []
        told = [(_("Residual, as planned"), self.residual(planned))]
        if expected is not None and sheet.misplaced:
            told.append((_("Residual, as it stands"), self.residual(expected)))
        shown = expected or planned
        if shown.opposite_max_g_mm is not None:
            opposite = self.manner.moment(shown.opposite_max_g_mm) + G_MM
            told.append((_("Opposites differ by at most"), opposite))
        neighbour = self.manner.moment(shown.neighbour_max_g_mm) + G_MM
        told.append((_("Neighbours differ by at most"), neighbour))
        told.append((_("Moment spread"), self.manner.moment(shown.moment_spread_g_mm) + G_MM))
        if shown.frequency_spread_hz is not None:
            hertz = f"{self.show.decimal(shown.frequency_spread_hz, 2)} Hz"
            told.append((_("Frequency spread"), hertz))
        return told

    def residual(self, measured: Measured) -> str:
        """A residual beside its uncertainty, no digit below it, and its angle."""
        size = self.manner.residual(measured.residual_g_mm)
        beside = plus_minus(self.manner.u95_g_mm, self.show)
        angle = self.show.decimal(measured.residual_deg, 0)
        inside = self.manner.u95_g_mm is not None and measured.residual_g_mm <= (
            self.manner.u95_g_mm
        )
        where = "" if inside else self.words._(" at %(angle)s°", angle=angle)
        return f"{size}{' ' + beside if beside else ''}{G_MM}{where}"

    def compared(self) -> str:
        """The residual and its uncertainty against the share; empty without one."""
        found = self.sheet.compared(self.sheet.expected)
        if found is None:
            return ""
        values = {
            "used": self.show.decimal(found.used_g_mm, 0) + G_MM,
            "share": self.show.decimal(found.share_g_mm, 0) + G_MM,
        }
        if found.within:
            return self.words._(
                "Residual and its 95 %% uncertainty, %(used)s, lie within the share, "
                "%(share)s.",
                **values,
            )
        return self.words._(
            "Residual and its 95 %% uncertainty, %(used)s, exceed the share, %(share)s.",
            **values,
        )

    def book(self) -> Book:
        """Slot by slot, as a table and as files."""
        snapshot, _ = self.sheet.snapshot, self.words._
        return Book(
            page=_("set %(code)s", code=self.sheet.found.code),
            question=_("What of set %(code)s?", code=self.sheet.found.code),
            answer="".join(piece.text for piece in self.answer),
            filters=(),
            cut_off=cut_off(snapshot, self.words, self.show),
            zone=snapshot.zone,
            at_us=snapshot.now_us,
            sheets=(self.slots(),),
        )

    def slots(self) -> Sheet:
        """Each slot: what was planned, what stands there, its readings, what is lacking."""
        _ = self.words._
        columns = (
            Column(name=_("slot"), kind=WHOLE),
            Column(name=_("planned"), head=True),
            Column(name=_("stands there")),
            Column(name=_("moment"), kind=NUMBER, unit="g_mm"),
            Column(name=_("frequency"), kind=NUMBER, unit="Hz"),
            Column(name=_("said of it")),
        )
        rows = tuple(self._slot(slot, s) for slot, s in enumerate(self.sheet.found.slots, 1))
        return Sheet(
            code="slots", title=_("Slot by slot, as reserved"), columns=columns, rows=rows
        )

    def _slot(self, slot: int, serial: str) -> tuple[Cell, ...]:
        values = self.sheet.found.readings.get(serial, {})
        moment, tone = values.get("moment"), values.get("frequency")
        return (
            Cell(self.show.count(slot), slot),
            Cell(serial),
            Cell(self.sheet.found.fitted.get(slot, "")),
            Cell("" if moment is None else self.manner.moment(moment), moment),
            Cell("" if tone is None else self.show.decimal(tone, 2), tone),
            Cell(self.sheet.lacking.get(serial) or self._elsewhere(slot, serial)),
        )

    def _elsewhere(self, slot: int, serial: str) -> str:
        fitted = self.sheet.found.fitted
        at = next((place for place, there in fitted.items() if there == serial), slot)
        if at != slot:
            return self.words._("stands in slot %(slot)s", slot=at)
        return self.words._("another stands here") if fitted.get(slot, serial) != serial else ""
