"""The story of one weld, and what one film shows, as sheets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from ringwright.core.facts import Entry
from ringwright.kit.sheets import MOMENT, WHOLE, Cell, Column, Sheet
from ringwright.weldmaps.ring_board import RingBoard
from ringwright.weldmaps.sheets import DASH, WeldSheets
from ringwright.welds.defects import DEFECTS
from ringwright.welds.state import Film, Weld


@dataclass(frozen=True, slots=True)
class WeldStories(WeldSheets):
    """Sheets that tell of one weld or one film."""

    def on_film(self, board: RingBoard, film: Film) -> Sheet:
        """Every weld on a film with its verdict."""
        _ = self.told.words._
        return Sheet(
            code="film",
            title=_("Every weld on film %(film)s", film=film.code),
            columns=(
                Column(name=_("Weld"), head=True),
                Column(name=_("State")),
                Column(name=_("Repairs"), kind=WHOLE),
                Column(name=_("Verdict from this film")),
            ),
            rows=tuple(
                (
                    Cell(code, code, self.to_weld(board.ring.serial, code)),
                    Cell(self.told.state(board.ring.welds[code].state)),
                    self.count(board.ring.welds[code].repairs),
                    Cell(self.verdict_of(board.ring.welds[code], film)),
                )
                for code in film.welds
            ),
        )

    def verdict_of(self, weld: Weld, film: Film) -> str:
        """What was read of a weld from a film; a dash where nothing was."""
        _ = self.told.words._
        read = next((one for one in weld.readings if one.film == film.code), None)
        if read is None:
            return DASH
        told = [_("accepted") if read.accepted else _("not accepted")]
        return "; ".join(told + [self.defect(one) for one in read.defects])

    def story(self, board: RingBoard, weld: Weld) -> Sheet:
        """All that happened to one weld, in order, withdrawn entries among it."""
        _ = self.told.words._
        gone = {one.seq: by for one, by in board.ring.withdrawn}
        told = [(entry, "") for entry, codes in board.ring.events if weld.code in codes]
        told += [
            (one, by.data.get("reason", ""))
            for one, by in board.ring.withdrawn
            if weld.code in str(one.data)
        ]
        told.sort(key=lambda one: one[0].seq)
        return Sheet(
            code="story",
            title=_("All that happened to weld %(weld)s", weld=weld.code),
            columns=(
                Column(name=_("When"), kind=MOMENT, head=True),
                Column(name=_("What")),
                Column(name=_("By")),
                Column(name=_("Found")),
                Column(name=_("Entry"), kind=WHOLE),
                Column(name=_("Withdrawn, why")),
            ),
            rows=tuple(
                (
                    self.moment(entry.at_us),
                    Cell(self.told.act(entry.kind)),
                    Cell(self._who(entry)),
                    Cell(self._found(entry, weld)),
                    self.count(entry.seq),
                    Cell(why if entry.seq in gone else DASH),
                )
                for entry, why in told
            ),
        )

    def _who(self, entry: Entry) -> str:
        return self.who(str(entry.data.get("welder") or entry.actor), entry.kind)

    def _found(self, entry: Entry, weld: Weld) -> str:
        """What an entry says of this weld, in words."""
        finding = _FOUND.get(entry.kind)
        return finding(self, entry, weld) if finding else DASH

    def passed(self, entry: Entry, _weld: Weld) -> str:
        """What is said of welding it."""
        _, data = self.told.words._, entry.data
        return _(
            "%(procedure)s, filler lot %(lot)s, oxygen %(ppm)s ppm, %(colour)s",
            procedure=data["procedure"], lot=data["filler_lot"],
            ppm=self.told.show.decimal(float(data["oxygen_ppm"]), 0), colour=data["colour"],
        )  # fmt: skip

    def penetrant(self, entry: Entry, weld: Weld) -> str:
        """Whether penetrant showed something."""
        _ = self.told.words._
        shown = weld.code in entry.data.get("shown", ())
        return _("shows something") if shown else _("shows nothing")

    def taken(self, entry: Entry, _weld: Weld) -> str:
        """The film and the wire seen."""
        _, data = self.told.words._, entry.data
        return _("film %(film)s, %(wire)s", film=data["film"], wire=self.wire(data["wire"]))

    def verdict(self, entry: Entry, weld: Weld) -> str:
        """The verdict and what was found."""
        _, data = self.told.words._, entry.data
        good = weld.code in data.get("accepted", ())
        told = [_("accepted") if good else _("not accepted")]
        told += [
            self.defect(one) for one in data.get("defects", ()) if one["weld"] == weld.code
        ]
        return _("film %(film)s: %(told)s", film=data["film"], told="; ".join(told))

    def defect(self, one: Any) -> str:
        """A defect with its number, size and place."""
        _, show = self.told.words._, self.told.show
        return _(
            "%(kind)s %(word)s, %(size)s mm at %(at)s mm",
            kind=one["kind"], word=_(DEFECTS[one["kind"]]),
            size=show.decimal(float(one["size_mm"]), 1),
            at=show.decimal(float(one["at_mm"]), 0),
        )  # fmt: skip

    def dug(self, entry: Entry, _weld: Weld) -> str:
        """How deep it was ground out."""
        deep = self.told.show.decimal(float(entry.data["depth_mm"]), 1)
        return self.told.words._("%(n)s mm deep", n=deep)

    def proved(self, entry: Entry, _weld: Weld) -> str:
        """Whether the excavation is clear, and by what."""
        _, data = self.told.words._, entry.data
        clear = _("clear") if data["clear"] else _("not clear")
        return _("%(clear)s, by %(method)s", clear=clear, method=data["method"])

    def relieved(self, entry: Entry, _weld: Weld) -> str:
        """In which run."""
        return self.told.words._("in run %(run)s", run=entry.data["run"])


_FOUND: Final[dict[str, Callable[[WeldStories, Entry, Weld], str]]] = {
    "welds-made": WeldStories.passed,
    "weld-redone": WeldStories.passed,
    "penetrant-read": WeldStories.penetrant,
    "film-taken": WeldStories.taken,
    "film-read": WeldStories.verdict,
    "weld-excavated": WeldStories.dug,
    "excavation-proved": WeldStories.proved,
    "stress-relieved": WeldStories.relieved,
}
