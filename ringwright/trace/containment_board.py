"""A containment and the list of them as drawn: answer, progress, what is left to do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ringwright.core.glossary import N_
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.trace.answer import KIND_WORDS, Piece, suspect_name
from ringwright.trace.containments import (
    CLEARED,
    HELD,
    NOTED,
    OPEN,
    TOLD,
    ContainedPart,
    Containment,
    ContainmentLine,
)
from ringwright.trace.sheets import Tell, cut, cut_off
from ringwright.trace.threads import Marks, draw_marks, parts_per_mark

STATE_WORDS = {
    HELD: N_("held here"),
    OPEN: N_("sent, notice open"),
    TOLD: N_("sent, notice sent"),
    NOTED: N_("scrapped"),
    CLEARED: N_("cleared"),
}
STATES = (HELD, OPEN, TOLD, NOTED, CLEARED)
Link = Callable[[str], str]


@dataclass(frozen=True, kw_only=True)
class Share:
    """The parts in one state: a word, how many, their marks, whether a person must act."""

    state: str
    word: str
    n: int
    marks: Marks
    needs: bool


@dataclass(frozen=True, kw_only=True)
class ContainmentBoard:
    """The page of one containment."""

    containment: Containment
    suspect: str
    answer: tuple[Piece, ...]
    shares: tuple[Share, ...]
    each: int
    open_notices: tuple[ContainedPart, ...]
    clearable: tuple[ContainedPart, ...]
    more: int
    """Parts that could be cleared and are not listed on the screen."""
    parts: Sheet
    foot: str
    sets: tuple[tuple[str, int], ...] = ()
    """(set, contained parts that it has) of sets that the containment touches."""

    @property
    def all_open(self) -> str:
        """Every part with an open notice, as the form carries them."""
        return "\n".join(part.standing.serial for part in self.containment.in_state(OPEN))

    @property
    def all_clearable(self) -> str:
        """Every part that is not cleared, as the form carries them."""
        rest = self.containment.in_state(HELD, OPEN, TOLD, NOTED)
        return "\n".join(part.standing.serial for part in rest)

    @property
    def described(self) -> str:
        """The answer as one text."""
        return "".join(piece.text for piece in self.answer)


class Teller:
    """One containment told to one reader."""

    def __init__(self, containment: Containment, words: Words, show: Figures) -> None:
        self.containment = containment
        self.words = words
        self.show = show
        self.tell = Tell(words, show, containment.zone, containment.now_us)

    def board(self, link: Link, chosen: str = "") -> ContainmentBoard:
        """The page; `chosen` narrows what can be cleared to serials that hold that text."""
        found = self.containment
        clearable = [
            part
            for part in found.in_state(HELD, OPEN, TOLD, NOTED)
            if chosen.lower() in part.standing.serial.lower()
        ]
        listed = clearable[:MOST_CHOICES]
        return ContainmentBoard(
            containment=found,
            suspect=suspect_of(found.line, found.zone, self.words, self.show),
            answer=self.answer(),
            shares=self._shares(),
            each=parts_per_mark(max(found.count(state) for state in STATES)),
            open_notices=found.in_state(OPEN)[:MOST_CHOICES],
            clearable=tuple(listed),
            more=len(clearable) - len(listed),
            parts=cut(self.sheet(link)),
            sets=self._sets(),
            foot=cut_off(self.tell, found.head_seq, found.head_hash, found.as_of_us),
        )

    def _sets(self) -> tuple[tuple[str, int], ...]:
        open_ = self.containment.in_state(HELD, OPEN, TOLD)
        found = Counter(one.standing.reserved for one in open_ if one.standing.reserved)
        return tuple(sorted(found.items()))

    def answer(self) -> tuple[Piece, ...]:
        """What is still to do, then what is done."""
        clauses = [
            Piece(text(self.show.count(n)), state == OPEN)
            for state, text in self._clauses().items()
            if (n := self.containment.count(state))
        ]
        pieces = [Piece(f"{self.containment.line.code}: ")]
        for clause in clauses:
            pieces += [Piece(", "), clause] if len(pieces) > 1 else [clause]
        return (*pieces, Piece("."))

    def _clauses(self) -> dict[str, Callable[[str], str]]:
        _, ng, count = self.words._, self.words.ngettext, self.containment.count
        return {
            HELD: lambda n: _("%(count)s held here", count=n),
            OPEN: lambda n: ng(
                "%(count)s notice not sent", "%(count)s notices not sent", count(OPEN), count=n
            ),
            TOLD: lambda n: ng(
                "%(count)s notice sent", "%(count)s notices sent", count(TOLD), count=n
            ),
            NOTED: lambda n: _("%(count)s scrapped", count=n),
            CLEARED: lambda n: _("%(count)s cleared", count=n),
        }

    def _shares(self) -> tuple[Share, ...]:
        each = parts_per_mark(max(self.containment.count(state) for state in STATES))
        return tuple(
            Share(
                state=state,
                word=self.words._(STATE_WORDS[state]),
                n=self.containment.count(state),
                marks=draw_marks(
                    [self._shape(p) for p in self.containment.in_state(state)], each
                ),
                needs=state == OPEN,
            )
            for state in STATES
            if self.containment.count(state)
        )

    def _shape(self, part: ContainedPart) -> tuple[str, bool]:
        place = part.standing.place
        return {"in work": "work"}.get(place, place), part.standing.hold is not None

    def sheet(self, link: Link | None = None) -> Sheet:
        """Every part of the containment."""
        _ = self.words._
        return Sheet(
            code="parts",
            title=_("Parts of containment %(code)s", code=self.containment.line.code),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("product")),
                Column(name=_("state")),
                Column(name=_("stands")),
                Column(name=_("lies at")),
                Column(name=_("contained"), kind=MOMENT),
                Column(name=_("notice to")),
                Column(name=_("notice sent"), kind=MOMENT),
                Column(name=_("cleared"), kind=MOMENT),
                Column(name=_("by")),
                Column(name=_("why")),
            ),
            rows=tuple(self._row(part, link) for part in self.containment.parts),
        )

    def _row(self, part: ContainedPart, link: Link | None) -> tuple[Cell, ...]:
        one, tell = part.standing, self.tell
        return (
            Cell(one.serial, one.serial, link(one.serial) if link else ""),
            Cell(one.product, one.product),
            _cell(self.words._(STATE_WORDS[part.state])),
            _cell(tell.place(one)),
            _cell(tell.whereabouts(one)),
            tell.moment(part.at_us),
            _cell(part.to),
            tell.moment(part.told_us),
            tell.moment(part.cleared_us),
            _cell(part.cleared_by),
            _cell(part.why),
        )

    def book(self) -> Book:
        """The page as a file: every part, whatever the screen left out."""
        found, _ = self.containment, self.words._
        counts = [f"{self.show.count(found.count(s))} {_(STATE_WORDS[s])}" for s in STATES]
        line = _(
            "Parts %(all)s = %(states)s",
            all=self.show.count(len(found.parts)),
            states=" + ".join(counts),
        )
        suspect = suspect_of(found.line, found.zone, self.words, self.show)
        return Book(
            page="containment",
            question=_("What is still to do in containment %(code)s?", code=found.line.code),
            answer="".join(piece.text for piece in self.answer()),
            filters=((_("suspect"), suspect), (_("reason"), found.line.reason)),
            cut_off=cut_off(self.tell, found.head_seq, found.head_hash, found.as_of_us),
            zone=found.zone,
            at_us=found.now_us,
            sheets=(self.sheet(),),
            reconciliation=(line,),
        )


MOST_CHOICES = 60
"""Parts to tick on one screen; a filter narrows them, and all can be chosen at once."""


def _cell(text: str) -> Cell:
    return Cell(text or NOTHING, text if text and text != NOTHING else None)


def suspect_of(line: ContainmentLine, zone: str, words: Words, show: Figures) -> str:
    """What was suspect, as a sentence names it, with its kind; empty where nobody said."""
    if line.question is None:
        return ""
    name = suspect_name(line.question, zone, words, show)
    if line.question.kind in ("lot", "gauge", "step", "defect"):
        return name
    return f"{words._(KIND_WORDS[line.question.kind])} {name}"


def containments_sheet(
    lines: Sequence[ContainmentLine], tell: Tell, link: Link | None = None
) -> Sheet:
    """All containments, the newest first."""
    _ = tell.words._
    rows = [
        (
            Cell(line.code, line.code, link(line.code) if link else ""),
            tell.moment(line.at_us),
            _cell(suspect_of(line, tell.zone, tell.words, tell.show)),
            _cell(line.reason),
            _cell(line.by),
            tell.count(line.parts),
            tell.count(line.open),
            tell.count(line.notices),
            tell.count(line.notices_open),
        )
        for line in lines
    ]
    return Sheet(
        code="containments",
        title=_("Containments"),
        columns=(
            Column(name=_("containment"), head=True),
            Column(name=_("since"), kind=MOMENT),
            Column(name=_("suspect")),
            Column(name=_("reason")),
            Column(name=_("by")),
            Column(name=_("parts"), kind=WHOLE),
            Column(name=_("not cleared"), kind=WHOLE),
            Column(name=_("notices"), kind=WHOLE),
            Column(name=_("notices not sent"), kind=WHOLE),
        ),
        rows=tuple(rows),
    )
