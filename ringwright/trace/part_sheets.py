"""One part's history as sheets: entries, visits, readings, stops, holds, places, kin."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from ringwright.core.glossary import N_
from ringwright.kit.numbers import NOTHING
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.parts.rows import FOREVER_US, ConditionRow, VisitRow
from ringwright.trace.history import History, Kin, Told
from ringwright.trace.reading_sheets import readings_sheet, step_name, text
from ringwright.trace.sheets import Tell
from ringwright.trace.story import Storyteller

HOUR_US = 3_600_000_000
Link = Callable[[str], str]
OUTCOMES = {
    "pass": N_("passed"),
    "rework": N_("to rework"),
    "repair": N_("to repair"),
    "concession": N_("concession"),
    "scrap": N_("scrapped"),
    "withdrawn": N_("withdrawn"),
}


def entries_sheet(history: History, tell: Tell) -> Sheet:
    """Every entry in the order it happened; a correction stands beside what it corrects."""
    _ = tell.words._
    return Sheet(
        code="entries",
        title=_("Entries"),
        columns=(
            Column(name=_("entry"), kind=WHOLE, head=True),
            Column(name=_("happened"), kind=MOMENT),
            Column(name=_("learned"), kind=MOMENT),
            Column(name=_("by")),
            Column(name=_("second person")),
            Column(name=_("station")),
            Column(name=_("what")),
            Column(name=_("corrected to")),
            Column(name=_("corrected by")),
            Column(name=_("why corrected")),
        ),
        rows=tuple(_entry_row(told, history, tell) for told in history.told),
    )


def _entry_row(told: Told, history: History, tell: Tell) -> tuple[Cell, ...]:
    row, correction = told.row, told.correction
    story = Storyteller(history.card, tell.words, tell.show)
    new, by, why = NOTHING, NOTHING, NOTHING
    if correction is not None:
        new = tell.words._("void") if told.void else story.said(told.now)
        by, why = signers(correction, tell.words), story.why(correction)
    return (
        tell.count(row.site_seq),
        tell.moment(row.at_us),
        tell.moment(row.known_at_us),
        text(row.actor),
        text(row.approver),
        text(row.station),
        text(story.said(row)),
        text(new),
        text(by),
        text(why),
    )


def signers(row: Any, words: Words) -> str:
    """Who booked an entry, and the second person where one signed."""
    if not row.approver:
        return str(row.actor)
    return words._("%(who)s with %(second)s", who=row.actor, second=row.approver)


def visits_sheet(history: History, tell: Tell) -> Sheet:
    """Every visit with its queue and touch."""
    _ = tell.words._
    return Sheet(
        code="visits",
        title=_("Visits"),
        columns=(
            Column(name=_("step"), head=True),
            Column(name=_("begun"), kind=MOMENT),
            Column(name=_("ended"), kind=MOMENT),
            Column(name=_("outcome")),
            Column(name=_("queue"), kind=NUMBER, unit="h"),
            Column(name=_("touch"), kind=NUMBER, unit="h"),
            Column(name=_("station")),
            Column(name=_("by")),
            Column(name=_("lot used")),
            Column(name=_("defect")),
        ),
        rows=tuple(
            _visit_row(row, history, tell)
            for row in history.part.visits
            if row.step is not None
        ),
    )


def _visit_row(row: VisitRow, history: History, tell: Tell) -> tuple[Cell, ...]:
    outcome = tell.words._(OUTCOMES[row.outcome]) if row.outcome else tell.words._("in work")
    people = row.actor if row.ended_by in ("", row.actor) else f"{row.actor}, {row.ended_by}"
    return (
        Cell(step_name(history, row.step)),
        tell.moment(row.begin_us),
        _end(row.end_us, tell),
        text(f"{outcome}, {row.card}" if row.card else outcome),
        _hours(row.begin_us - row.ready_us, tell),
        _hours(row.touch_us, tell),
        text(row.station),
        text(people),
        text(row.lot),
        text(row.defect),
    )


def _end(us: int, tell: Tell) -> Cell:
    return Cell(NOTHING) if us >= FOREVER_US else tell.moment(us)


def _hours(us: int | None, tell: Tell) -> Cell:
    if us is None:
        return Cell(NOTHING)
    return Cell(tell.show.decimal(us / HOUR_US), us / HOUR_US)


def stops_sheet(history: History, tell: Tell) -> Sheet:
    """Stops and their sentences."""
    _ = tell.words._
    rows = [
        (
            tell.count(row.number),
            text(row.defect),
            text(row.place_on_part),
            Cell(step_name(history, row.found_step)),
            tell.moment(row.opened_us),
            text(row.opened_by),
            text(_(OUTCOMES[row.decision]) if row.decision else _("open")),
            Cell(step_name(history, row.caused_step)),
            text(row.document),
            _end(row.closed_us, tell),
            text(row.note),
        )
        for row in history.part.nonconformities
    ]
    return Sheet(
        code="stops",
        title=_("Stops and sentences"),
        columns=(
            Column(name=_("number"), kind=WHOLE, head=True),
            Column(name=_("defect")),
            Column(name=_("where on the part")),
            Column(name=_("found at")),
            Column(name=_("stopped"), kind=MOMENT),
            Column(name=_("by")),
            Column(name=_("sentence")),
            Column(name=_("caused at")),
            Column(name=_("document")),
            Column(name=_("sentenced"), kind=MOMENT),
            Column(name=_("note")),
        ),
        rows=tuple(rows),
    )


def spans_sheet(history: History, tell: Tell) -> Sheet:
    """Holds, whereabouts, priorities, searches, containments and notices, by their begin."""
    _ = tell.words._
    found = [
        (row.from_us, _("hold"), row.reason, "", row.to_us) for row in history.part.holds
    ] + [
        (row.from_us, _(CONDITION_WORDS.get(row.kind, row.kind)), *_condition(row), row.to_us)
        for row in history.part.conditions
    ]
    rows = [
        (Cell(word), text(value), tell.moment(start), _end(end, tell), text(by))
        for start, word, value, by, end in sorted(found, key=lambda one: one[0])
    ]
    return Sheet(
        code="spans",
        title=_("Holds, whereabouts, containments"),
        columns=(
            Column(name=_("what"), head=True),
            Column(name=_("which, why")),
            Column(name=_("from"), kind=MOMENT),
            Column(name=_("to"), kind=MOMENT),
            Column(name=_("by")),
        ),
        rows=tuple(rows),
    )


CONDITION_WORDS = {
    "whereabouts": N_("whereabouts"),
    "priority": N_("priority"),
    "search": N_("search"),
    "containment": N_("containment"),
    "notice": N_("notice"),
}


def _condition(row: ConditionRow) -> tuple[str, str]:
    value = "" if row.kind in ("priority", "search") else row.value
    return ": ".join(filter(None, (value, row.note or ""))), row.actor


def marks_sheet(history: History, tell: Tell) -> Sheet:
    """Every mark the part bore."""
    _ = tell.words._
    marks = history.marks or ((history.part.serial, False),)
    return Sheet(
        code="marks",
        title=_("Marks"),
        columns=(Column(name=_("mark"), head=True), Column(name=_("is"))),
        rows=tuple(
            (Cell(mark, mark), text(_("retired") if retired else _("borne now")))
            for mark, retired in marks
        ),
    )


def kin_sheet(history: History, tell: Tell, link: Link | None = None) -> Sheet:
    """What it was made from and what was made of it, to any depth."""
    _ = tell.words._
    return Sheet(
        code="kin",
        title=_("Made from, made into"),
        columns=(
            Column(name=_("part"), head=True),
            Column(name=_("relation")),
            Column(name=_("steps away"), kind=WHOLE),
            Column(name=_("by")),
            Column(name=_("when"), kind=MOMENT),
            Column(name=_("stands")),
            Column(name=_("hold")),
        ),
        rows=tuple(_kin_row(one, tell, link) for one in history.kin),
    )


LINK_WORDS = {"join": N_("joining"), "split": N_("parting")}


def _kin_row(one: Kin, tell: Tell, link: Link | None) -> tuple[Cell, ...]:
    _ = tell.words._
    relation = _("made from it") if one.away > 0 else _("it was made from this")
    stands = tell.place(one.standing) if one.standing else NOTHING
    return (
        Cell(one.serial, one.serial, link(one.serial) if link and one.standing else ""),
        text(relation),
        tell.count(abs(one.away)),
        text(_(LINK_WORDS.get(one.edge.link, one.edge.link))),
        tell.moment(one.edge.at_us),
        text(stands),
        text(one.standing.hold if one.standing else None),
    )


def all_sheets(history: History, tell: Tell, link: Link | None = None) -> Iterable[Sheet]:
    """Every sheet of the page, in its order."""
    return (
        visits_sheet(history, tell),
        readings_sheet(history, tell),
        stops_sheet(history, tell),
        spans_sheet(history, tell),
        kin_sheet(history, tell, link),
        marks_sheet(history, tell),
        entries_sheet(history, tell),
    )
