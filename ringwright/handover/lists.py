"""A shift's handover as sheets: the tables on the page and the file made from them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Final

from ringwright.core.glossary import N_
from ringwright.floor.model import HOUR_US, Standing
from ringwright.floor.troubles import hold_words
from ringwright.handover.rules import Note, Span
from ringwright.handover.sheet import (
    BY_CLEARING,
    BY_SENTENCE,
    OUTCOMES,
    HandoverSheet,
    Held,
    StepWaits,
)
from ringwright.kit.cutoff import cut_off
from ringwright.kit.left import Left
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.people.rules import PERMISSIONS
from ringwright.people.words import ROLE_WORDS

MOST_SHOWN: Final = 6
"""Rows of a list on the page, which is to fit one sheet of paper; the files hold them all."""
MOST_VISITS: Final = 200
OUTCOME_WORDS: Final[dict[str, str]] = {
    "pass": N_("passed"),
    "rework": N_("rework"),
    "repair": N_("repair"),
    "concession": N_("concession"),
    "scrap": N_("scrap"),
}
TOLD_WORDS: Final[dict[tuple[str, str], str]] = {
    ("run", "run-started"): N_("furnace run started"),
    ("run", "run-finished"): N_("furnace run finished"),
    ("run", "run-aborted"): N_("furnace run aborted"),
    ("run", "run-accepted"): N_("furnace run accepted"),
    ("run", "run-closed"): N_("furnace run closed"),
    ("set", "reserve"): N_("set reserved"),
    ("set", "mend"): N_("set mended"),
    ("set", "give-back"): N_("set given back"),
    ("set", "hand-over"): N_("set handed over to build"),
    ("set", "send"): N_("set sent"),
    ("shutting", "shut"): N_("shut"),
    ("shutting", "open"): N_("open again"),
}
DECISIONS: Final[dict[str, str]] = {**OUTCOME_WORDS, "withdrawn": N_("withdrawn")}
PAGES: Final = {
    "run": ("heatruns.run", "run"),
    "set": ("sets.set", "set_code"),
}
"""Kind of subject to the page of one: its route and the place in its path."""

Link = Callable[..., str]


def nowhere(_route: str, **_values: Any) -> str:
    """No links: in a file."""
    return ""


def shift_words(span: Span, zone: str, now_us: int, words: Words, show: Figures) -> str:
    """A shift by its name and hours: "night, Thu 26 Nov 22:00 to Fri 27 Nov 06:00"."""
    _ = words._
    start = show.moment(span.start_us, zone, now_us)
    end = show.moment(span.end_us, zone, span.start_us)
    name = span.name or _("between shifts")
    if (
        span.thirds
        or name == f"{show.clock(span.start_us, zone)}-{show.clock(span.end_us, zone)}"
    ):
        return _("%(start)s to %(end)s", start=start, end=end)
    return _("%(name)s, %(start)s to %(end)s", name=name, start=start, end=end)


class HandoverLists:
    """The sheets in one language; `link` makes addresses, or none for a file."""

    def __init__(
        self, found: HandoverSheet, words: Words, show: Figures, link: Link = nowhere
    ) -> None:
        self.found, self.words, self.show, self.link = found, words, show, link

    def shown(self) -> dict[str, Sheet]:
        """The lists of the page by name, each cut to what fits a sheet of paper."""
        return {
            sheet.code: replace(sheet, rows=sheet.rows[:MOST_SHOWN], of=len(sheet.rows))
            for sheet in self._lists()
        }

    def _lists(self) -> tuple[Sheet, ...]:
        return (
            self.done(), self.stops(), self.holds(), self.told(), self.corrections(),
            self.waits(), self.held(), self.windows(), self.shut(),
        )  # fmt: skip

    def done_by_product(self) -> list[Sheet]:
        """Visits ended by step, a list for each product of the shift."""
        _ = self.words._
        products = dict.fromkeys(row.product for row in self.found.done)
        return [
            self.done(product, f"done-{place}", _("Visits ended, %(product)s", product=product))
            for place, product in enumerate(products, start=1)
        ]

    def done(self, product: str = "", code: str = "done", title: str = "") -> Sheet:
        """Visits ended, by step and outcome; of one product where it is named."""
        _ = self.words._
        return Sheet(
            code=code,
            title=title or _("Visits ended"),
            columns=(
                Column(name=_("step"), head=True),
                *(() if product else (Column(name=_("product")),)),
                *(Column(name=_(OUTCOME_WORDS[one]), kind=WHOLE) for one in OUTCOMES),
            ),
            rows=tuple(
                (
                    Cell(f"{row.step} {row.name}"),
                    *(() if product else (Cell(row.product),)),
                    *(Cell(self.show.count(n) if n else "", n) for n in row.counts),
                )
                for row in self.found.done
                if not product or row.product == product
            ),
        )

    def visits(self, most: int | None = None) -> Sheet:
        """Every visit that ended in the shift."""
        _ = self.words._
        rows = self.found.visits[:most]
        return Sheet(
            code="visits",
            title=_("Every visit that ended"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("step")),
                Column(name=_("ended"), kind=MOMENT),
                Column(name=_("outcome")),
                Column(name=_("defect")),
                Column(name=_("station")),
                Column(name=_("by")),
            ),
            rows=tuple(
                (
                    self._part(row.serial), self._at_step(row.product, row.step),
                    self._moment(row.end_us), Cell(self._outcome(row.outcome)),
                    Cell(row.defect or ""), Cell(row.station), Cell(row.ended_by),
                )
                for row in rows
            ),
            of=len(self.found.visits),
        )  # fmt: skip

    def stops(self) -> Sheet:
        """Nonconformities opened and sentenced."""
        _ = self.words._
        return Sheet(
            code="stops",
            title=_("Stopped and sentenced"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("what is wrong")),
                Column(name=_("found at")),
                Column(name=_("opened"), kind=MOMENT),
                Column(name=_("sentence")),
            ),
            rows=tuple(
                (
                    self._part(row.serial), Cell(row.defect),
                    Cell(NOTHING if row.found_step is None else str(row.found_step)),
                    self._moment(row.opened_us),
                    self._sentence(row),
                )
                for row in self.found.stops
            ),
        )  # fmt: skip

    def _sentence(self, row: Any) -> Cell:
        open_then = row.closed_us >= self._until_us()
        if open_then:
            return Cell(self.words._("waits"), link=self.link("bench.nonconformities"))
        return Cell(self._outcome(row.decision))

    def _until_us(self) -> int:
        return min(self.found.span.end_us, self.found.at_us + 1)

    def holds(self) -> Sheet:
        """Holds placed and lifted."""
        _ = self.words._
        span, end_us = self.found.span, self._until_us()
        rows: list[tuple[Cell, ...]] = []
        for row in self.found.holds:
            why = Cell(hold_words(row.reason, self.words))
            for word, at_us in ((_("placed"), row.from_us), (_("lifted"), row.to_us)):
                if span.start_us <= at_us < end_us:
                    rows.append((self._part(row.serial), Cell(word), self._moment(at_us), why))
        return Sheet(
            code="holds",
            title=_("Holds placed and lifted"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("hold")),
                Column(name=_("when"), kind=MOMENT),
                Column(name=_("why")),
            ),
            rows=tuple(rows),
        )

    def told(self) -> Sheet:
        """Runs, sets, things shut and opened."""
        _ = self.words._
        return Sheet(
            code="told",
            title=_("Furnace runs, sets, what was shut"),
            columns=(
                Column(name=_("what"), head=True),
                Column(name=_("happened")),
                Column(name=_("when"), kind=MOMENT),
                Column(name=_("by")),
            ),
            rows=tuple(
                (
                    Cell(row.subject.replace(":", " "), link=self._page_of(row)),
                    Cell(_(TOLD_WORDS[row.subject_kind, row.kind])),
                    self._moment(row.at_us),
                    Cell(row.actor),
                )
                for row in self.found.told
            ),
        )

    def _page_of(self, row: Any) -> str:
        if row.subject_kind not in PAGES:
            return self.link("floor.shut")
        route, place = PAGES[row.subject_kind]
        return self.link(route, **{place: row.subject})

    def corrections(self) -> Sheet:
        """Entries that were corrected."""
        _ = self.words._
        return Sheet(
            code="corrections",
            title=_("Entries corrected"),
            columns=(
                Column(name=_("entry"), kind=WHOLE, head=True),
                Column(name=_("part")),
                Column(name=_("when"), kind=MOMENT),
                Column(name=_("by")),
            ),
            rows=tuple(
                (
                    Cell(
                        self.show.count(row.corrects),
                        row.corrects,
                        link=self.link("bench.entries", serial=row.subject),
                    ),
                    self._part(row.subject),
                    self._moment(row.at_us),
                    Cell(row.actor),
                )
                for row in self.found.corrections
            ),
        )

    def waits(self) -> Sheet:
        """What waits, by step; the part that waits longest first."""
        _ = self.words._
        return Sheet(
            code="waits",
            title=_("Waiting, by step"),
            columns=(
                Column(name=_("step"), head=True),
                Column(name=_("parts"), kind=WHOLE),
                Column(name=_("late"), kind=WHOLE),
                Column(name=_("held"), kind=WHOLE),
                Column(name=_("longest there")),
                Column(name=_("waits"), kind=NUMBER, unit="h"),
            ),
            rows=tuple(self._wait(row) for row in self.found.waits),
        )

    def _wait(self, row: StepWaits) -> tuple[Cell, ...]:
        asked = {"product": row.product, "step": row.step}

        def count(n: int, state: str) -> Cell:
            leads = self.link("floor.parts", **asked, state=state) if n else ""
            return Cell(self.show.count(n) if n else "", n, link=leads)

        return (
            self._at_step(row.product, row.step),
            count(row.parts, "waiting"),
            count(row.late, "late"),
            count(row.held, "held"),
            self._part(row.oldest.serial),
            self._hours(self.found.at_us - row.oldest.since_us),
        )

    def held(self) -> Sheet:
        """What is on hold: how long, why, who may lift it."""
        _ = self.words._
        return Sheet(
            code="held",
            title=_("On hold"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("held for"), kind=NUMBER, unit="h"),
                Column(name=_("why")),
                Column(name=_("stands at")),
                Column(name=_("who may lift it")),
            ),
            rows=tuple(
                (
                    self._part(row.serial),
                    self._hours(self.found.at_us - row.since_us),
                    Cell(hold_words(row.reason, self.words)),
                    Cell(row.where),
                    Cell(self.who_lifts(row)),
                )
                for row in self.found.held
            ),
        )

    def who_lifts(self, row: Held) -> str:
        """Whom to call for a hold."""
        _ = self.words._
        if row.lifted_by == BY_SENTENCE:
            return _("%(who)s, by a sentence", who=self._who("sentence"))
        if row.lifted_by == BY_CLEARING:
            return _("%(who)s, who clears it in %(containment)s", who=self._who("clear"),
                     containment=row.containment)  # fmt: skip
        return self._who("lift a hold")

    def _who(self, permission: str) -> str:
        roles = [role for role in ROLE_WORDS if role in PERMISSIONS[permission]]
        return self.words._(" or ").join(self.words._(ROLE_WORDS[role]) for role in roles)

    def windows(self) -> Sheet:
        """Windows that run, and those that ran out."""
        _ = self.words._
        return Sheet(
            code="windows",
            title=_("Windows"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("must begin")),
                Column(name=_("until"), kind=MOMENT),
                Column(name=_("hold")),
            ),
            rows=tuple(self._window(part) for part in self.found.windows),
        )

    def _window(self, part: Standing) -> tuple[Cell, ...]:
        _ = self.words._
        window = part.window
        assert window is not None
        left = Left(
            until_us=window.deadline_us, left_us=window.left_us, over=_("window ran out")
        )
        until = replace(self._moment(window.deadline_us), left=left)
        return (
            self._part(part.serial),
            self._at_step(part.product, window.before),
            until,
            Cell(_("held") if part.hold is not None else ""),
        )

    def shut(self) -> Sheet:
        """What is shut."""
        _ = self.words._
        return Sheet(
            code="shut",
            title=_("Shut"),
            columns=(
                Column(name=_("shut"), head=True),
                Column(name=_("since"), kind=MOMENT),
                Column(name=_("why")),
                Column(name=_("who may open it")),
            ),
            rows=tuple(
                (
                    Cell(f"{_(one.kind)} {one.code}", link=self.link("floor.shut")),
                    self._moment(one.since_us),
                    Cell(one.reason),
                    Cell(_(ROLE_WORDS.get(one.opener, one.opener))),
                )
                for one in self.found.floor.shut
            ),
        )

    def notes(self, notes: Sequence[Note], code: str, title: str) -> Sheet:
        """Notes with who took them over."""
        _ = self.words._
        names = (_("note"), _("written"), _("by"), _("shift from"), _("text"), _("for"),
                 _("part"), _("taken over"), _("taken over by"))  # fmt: skip
        moments = {1, 3, 7}
        return Sheet(
            code=code,
            title=title,
            columns=tuple(
                Column(
                    name=name,
                    kind=MOMENT if place in moments else WHOLE if not place else "text",
                    head=not place,
                )
                for place, name in enumerate(names)
            ),
            rows=tuple(self._note(note) for note in notes),
        )

    def _note(self, note: Note) -> tuple[Cell, ...]:
        taken = Cell("") if note.taken_us is None else self._moment(note.taken_us)
        role = ROLE_WORDS.get(note.for_role or "", "")
        return (
            Cell(self.show.count(note.number), note.number),
            self._moment(note.at_us),
            Cell(note.actor),
            self._moment(note.shift_us),
            Cell(note.text),
            Cell(self.words._(role) if role else ""),
            Cell(note.serial or ""),
            taken,
            Cell(note.taken_by),
        )

    def _part(self, serial: str) -> Cell:
        return Cell(serial, link=self.link("trace.part", serial=serial))

    def _at_step(self, product: str, step: int) -> Cell:
        name = self.found.floor.names.get((product, step), "")
        return Cell(f"{product} {step} {name}".strip())

    def _outcome(self, outcome: str | None) -> str:
        return self.words._(DECISIONS.get(outcome or "", outcome or ""))

    def _moment(self, us: int) -> Cell:
        return Cell(self.show.moment(us, self.found.zone, self.found.at_us), us)

    def _hours(self, us: int) -> Cell:
        hours = max(0, us) / HOUR_US
        return Cell(self.show.decimal(hours), hours)

    def answer(self) -> str:
        """What the shift amounts to, in at most 90 letters."""
        _, found, count = self.words._, self.found, self.show.count
        outcomes = found.outcomes
        clauses = [
            self.words.ngettext(
                "%(n)s visit passed", "%(n)s visits passed", outcomes["pass"],
                n=count(outcomes["pass"]),
            ),
        ]  # fmt: skip
        for outcome in ("rework", "scrap"):
            if outcomes[outcome]:
                said = self._outcome(outcome)
                clauses.append(_("%(n)s %(outcome)s", n=count(outcomes[outcome]), outcome=said))
        clauses.append(_("%(n)s on hold", n=count(len(found.held))))
        if found.open_notes:
            n = len(found.open_notes)
            clauses.append(
                self.words.ngettext(
                    "%(n)s note not taken over", "%(n)s notes not taken over", n, n=count(n)
                )
            )
        return ", ".join(clauses) + "."

    def book(self) -> Book:
        """The whole handover as a book: every row of every list."""
        _, found = self.words._, self.found
        drawn = found.drawn
        shift = shift_words(found.span, found.zone, found.at_us, self.words, self.show)
        return Book(
            page="handover",
            question=_("What does this shift leave to the next?"),
            answer=self.answer(),
            filters=((_("Site"), drawn.site_name or drawn.site), (_("Shift"), shift)),
            cut_off=cut_off(drawn, self.words, self.show),
            zone=found.zone,
            at_us=drawn.now_us,
            sheets=(
                *self._lists(),
                self.visits(),
                self.notes(found.handed, "notes before", _("Notes of earlier shifts")),
                self.notes(found.notes, "notes", _("Notes of this shift")),
            ),
        )
