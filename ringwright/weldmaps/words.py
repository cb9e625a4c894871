"""Weld maps in words: answers, states, what is next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.weldmaps.queries import WeldsUnderWay
from ringwright.weldmaps.ring_board import RingBoard
from ringwright.welds.state import AT_LIMIT, NEXT, Film, Weld

STATES: Final[dict[str, str]] = {
    "not welded": N_("not welded"),
    "welded": N_("welded"),
    "rewelded": N_("rewelded"),
    "to relieve": N_("to relieve"),
    "to radiograph": N_("to radiograph"),
    "to read": N_("to read"),
    "accepted": N_("accepted"),
    "to excavate": N_("to excavate"),
    "excavated": N_("excavated"),
    "proved clear": N_("proved clear"),
    "at the limit": N_("at the limit"),
}
ACTS: Final[dict[str, str]] = {
    "ring-opened": N_("ring begun"),
    "vanes-fitted": N_("vanes fitted"),
    "welds-made": N_("welded"),
    "penetrant-read": N_("penetrant read"),
    "film-taken": N_("radiographed"),
    "film-read": N_("film read"),
    "weld-excavated": N_("excavated"),
    "excavation-proved": N_("excavation tested"),
    "weld-redone": N_("welded again"),
    "stress-relieved": N_("stress relieved"),
    "weld-entry-withdrawn": N_("entry withdrawn"),
}
NOT_DONE: Final = N_("Not recorded")
CAUTIONS: Final = (
    N_(
        "Radiography: only in the controlled area, with the interlock shut, a survey meter and "
        "dosimetry, by licensed people. This page gives no clearance to enter."
    ),
    N_(
        "Argon has no smell, is heavier than air and collects in cavities and pits: measure "
        "oxygen before anybody leans or goes in; no entry below 19.5 %% (EIGA Doc 44)."
    ),
    N_(
        "Lift the case by its plan only. Local codes, the site's procedures and licensed "
        "practice rule in all of it."
    ),
)


@dataclass(frozen=True, slots=True)
class WeldWords:
    """Sentences in one language."""

    words: Words
    show: Figures

    def state(self, code: str) -> str:
        """A state of a weld."""
        return self.words._(STATES.get(code, code))

    def act(self, kind: str) -> str:
        """What happened."""
        return self.words._(ACTS.get(kind, kind))

    def next_of(self, weld: Weld) -> str:
        """What is done next with a weld."""
        return self.words._(NEXT[weld.state])

    def all_rings(self, found: WeldsUnderWay) -> str:
        """How many rings have an open weld, what waits, what is at its limit."""
        _, several, n = self.words._, self.words.ngettext, self.show.count
        if not found.plans:
            return _("No product has a weld plan yet")
        if not found.rings:
            return _("No ring has an open weld")
        told = [
            several(
                "%(n)s ring has open welds", "%(n)s rings have open welds", found.of,
                n=n(found.of),
            )
        ]  # fmt: skip
        films = len(found.films)
        if films:
            told.append(
                several(
                    "%(n)s film waits for its reader", "%(n)s films wait for their reader",
                    films, n=n(films),
                )
            )  # fmt: skip
        limit = sum(len(line.ring.in_state(AT_LIMIT)) for line in found.rings)
        if limit:
            told.append(
                several(
                    "%(n)s weld is at its limit", "%(n)s welds are at their limit", limit,
                    n=n(limit),
                )
            )  # fmt: skip
        return ", ".join(told)

    def ring(self, board: RingBoard) -> str:
        """How far one ring is."""
        _, several, n = self.words._, self.words.ngettext, self.show.count
        ring, serial = board.ring, board.ring.serial
        limit = [one for one in ring.in_state(AT_LIMIT) if one in board.left]
        if not board.left and not ring.done:
            return several(
                "%(serial)s: %(n)s weld goes by concession, the others are accepted",
                "%(serial)s: %(n)s welds go by concession, the others are accepted",
                len(ring.open), serial=serial, n=n(len(ring.open)),
            )  # fmt: skip
        if limit:
            return _("%(serial)s: weld %(weld)s is at its limit of repairs; the design "
                     "authority decides", serial=serial, weld=limit[0])  # fmt: skip
        if ring.done:
            return _("%(serial)s: all %(n)s welds are accepted", serial=serial,
                     n=n(len(ring.welds)))  # fmt: skip
        told = _(
            "%(serial)s: %(open)s out of %(n)s welds are open",
            serial=serial, open=n(len(ring.open)), n=n(len(ring.welds)),
        )  # fmt: skip
        films = len(board.waiting)
        if films:
            told += ", " + several(
                "%(n)s film waits for its reader", "%(n)s films wait for their reader",
                films, n=n(films),
            )  # fmt: skip
        return told

    def weld(self, board: RingBoard, weld: Weld) -> str:
        """Where one weld stands and what is next."""
        return self.words._(
            "%(serial)s, weld %(weld)s: %(state)s; next: %(next)s",
            serial=board.ring.serial, weld=weld.code, state=self.state(weld.state),
            next=self.next_of(weld),
        )  # fmt: skip

    def film(self, board: RingBoard, film: Film) -> str:
        """What became of one film."""
        _, n = self.words._, self.show.count
        if not film.good:
            return _("Film %(film)s does not show the wire asked: take it again",
                     film=film.code)  # fmt: skip
        due = board.due(film)
        if due:
            return self.words.ngettext(
                "Film %(film)s: %(n)s weld waits for its verdict",
                "Film %(film)s: %(n)s welds wait for their verdict",
                len(due), film=film.code, n=n(len(due)),
            )  # fmt: skip
        if not film.read_by:
            return _("Film %(film)s is overtaken by later ones", film=film.code)
        return _("Film %(film)s was read", film=film.code)

    def described(self, board: RingBoard) -> str:
        """The picture in words."""
        ring, _, n = board.ring, self.words._, self.show.count
        told = [
            f"{self.state(state)} {n(len(ring.in_state(state)))}"
            for state in STATES
            if ring.in_state(state)
        ]
        return _(
            "The ring seen from the front with %(vanes)s vanes; welds: %(told)s.",
            vanes=n(board.plan.vanes), told=", ".join(told),
        )  # fmt: skip
