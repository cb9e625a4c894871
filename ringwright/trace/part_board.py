"""The page of one part as drawn: answer, life line, entries with their corrections."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import Book, Sheet
from ringwright.kit.words import Words
from ringwright.trace.answer import Piece
from ringwright.trace.history import History, Told
from ringwright.trace.lifeline import Lifeline, draw_lifeline
from ringwright.trace.part_sheets import all_sheets, signers
from ringwright.trace.reading_sheets import conformity_sheet
from ringwright.trace.sheets import Tell, cut_off
from ringwright.trace.story import Storyteller

LATE_US = 60_000_000
"""An entry recorded this much after it happened says both times."""
Address = Callable[..., str]


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One entry on the page; a corrected one with its old text beside the new."""

    number: int
    text: str
    at: str
    by: str
    second: str
    """The second person who signed it, if any."""
    station: str
    learned: str
    """When we learned it, where that was later than it happened."""
    old: str
    """What it said before it was corrected; empty where it was not."""
    old_at: str
    void: bool
    corrected_by: str
    """Who corrected it, and the second person, if any."""
    corrected_at: str
    corrected_why: str
    correction: int
    corrects: int


@dataclass(frozen=True, kw_only=True)
class PartBoard:
    """The whole page, from one snapshot."""

    history: History
    answer: tuple[Piece, ...]
    lifeline: Lifeline
    ticks: tuple[tuple[float, str, str], ...]
    facts: tuple[tuple[str, str], ...]
    entries: tuple[Entry, ...]
    sheets: tuple[Sheet, ...]
    foot: str
    ptag: str

    @property
    def described(self) -> str:
        """The answer as one text."""
        return "".join(piece.text for piece in self.answer)


def _spare(n: int) -> str:
    """Two of three ticks go without their words on a phone."""
    return " is-spare" if n % 3 else ""


class PartDrawing:
    """One part's history told to one reader."""

    def __init__(self, history: History, words: Words, show: Figures, address: Address) -> None:
        self.history = history
        self.words = words
        self.show = show
        self.address = address
        self.tell = Tell(words, show, history.zone, history.now_us)
        self.story = Storyteller(history.card, words, show)

    def board(self, *, probable: bool = False) -> PartBoard:
        """Everything the page shows; `probable`: with the probability of conformity."""
        found = self.history
        line = draw_lifeline(found.part, found.now_us, found.zone)
        link = lambda serial: self.address("trace.part", serial=serial)  # noqa: E731
        *sheets, _ = all_sheets(found, self.tell, link)
        if probable:
            sheets.insert(2, conformity_sheet(found, self.tell))
        return PartBoard(
            history=found,
            answer=self.answer(),
            lifeline=line,
            ticks=tuple(
                (t.x, t.side + _spare(n), self.show.day(t.at_us, found.zone))
                for n, t in enumerate(line.ticks)
            ),
            facts=self._facts(),
            entries=tuple(self._entry(told) for told in found.told),
            sheets=tuple(sheet for sheet in sheets if sheet.rows),
            foot=cut_off(self.tell, found.head_seq, found.head_hash, found.as_of_us),
            ptag=f"{found.head_seq}-{found.now_us // 60_000_000}",
        )

    def book(self) -> Book:
        """The whole history as a file."""
        found, _ = self.history, self.words._
        return Book(
            page=f"part {found.part.serial}",
            question=_("What is the whole history of %(part)s?", part=found.part.serial),
            answer="".join(piece.text for piece in self.answer()),
            filters=((_("part"), found.part.serial), (_("product"), found.card.product)),
            cut_off=cut_off(self.tell, found.head_seq, found.head_hash, found.as_of_us),
            zone=found.zone,
            at_us=found.now_us,
            sheets=tuple(all_sheets(found, self.tell)),
        )

    def answer(self) -> tuple[Piece, ...]:
        """Where it stands and what keeps it."""
        one, _ = self.history.standing, self.words._
        step = self.history.card.by_number.get(one.step or -1)
        where = self.tell.place(one)
        if step is not None and one.place == "waiting":
            where = _("waiting for %(step)s", step=f"{step.number} {step.name}")
        elif step is not None and one.place == "in work":
            where = _("in work at %(step)s", step=f"{step.number} {step.name}")
        pieces = [Piece(_("%(part)s is %(where)s", part=one.serial, where=where))]
        if one.hold is not None:
            pieces += [Piece(", "), Piece(_("held"), True)]
        if one.nonconformities:
            stopped = _("stopped and not sentenced")
            pieces += [Piece(", "), Piece(stopped, True)]
        if one.open_notices:
            pieces += [Piece(", "), Piece(_("notice not sent"), True)]
        return (*pieces, Piece("."))

    def _facts(self) -> tuple[tuple[str, str], ...]:
        found, one, _ = self.history, self.history.standing, self.words._
        marks = ", ".join(mark for mark, retired in found.marks if not retired)
        listed = (
            (_("product"), f"{found.card.product}, {found.card.name}"),
            (_("revision"), found.card.revision),
            (_("created"), self.tell.moment(found.part.life.created_us).shown),
            (_("from lot"), one.lot or ""),
            (_("bears the mark"), marks if marks != one.serial else ""),
            (_("lies at"), self.tell.whereabouts(one) if one.whereabouts else ""),
            (_("hold"), one.hold or ""),
            (_("contained in"), ", ".join(one.contained)),
            (_("notice"), self.tell.notice(one) if one.open_notices or one.told else ""),
            (_("last entry"), self.show.count(one.last_seq)),
        )
        return tuple((word, value) for word, value in listed if value)

    def _entry(self, told: Told) -> Entry:
        row, now, correction = told.row, told.now, told.correction
        old = self.story.said(row) if correction is not None else ""
        if now.actor != row.actor:
            old = f"{row.actor}, {old}"
        late = row.known_at_us - row.at_us > LATE_US and row.kind != "correct"
        return Entry(
            number=row.site_seq,
            text=self.story.said(now),
            at=self._moment(now.at_us),
            by=now.actor,
            second=row.approver or "",
            station=now.station,
            learned=self._moment(row.known_at_us) if late or correction is not None else "",
            old=old,
            old_at=self._moment(row.at_us) if now.at_us != row.at_us else "",
            void=told.void,
            corrected_by=signers(correction, self.words) if correction is not None else "",
            corrected_at=self._moment(correction.known_at_us) if correction is not None else "",
            corrected_why=self.story.why(correction) if correction is not None else "",
            correction=correction.site_seq if correction is not None else 0,
            corrects=row.corrects or 0,
        )

    def _moment(self, us: int) -> str:
        return self.show.moment(us, self.history.zone, self.history.now_us)
