"""One part's readings as sheets: how each was judged, and how sure that is."""

from __future__ import annotations

from typing import Final

from ringwright.core.conformity import GUARD, INSIDE, OUTSIDE, probability_of_conformity
from ringwright.core.glossary import N_
from ringwright.kit.numbers import NOTHING
from ringwright.kit.sheets import MOMENT, NUMBER, SHARE, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.parts.rows import ReadingRow
from ringwright.routecards.card import Characteristic
from ringwright.trace.history import History
from ringwright.trace.sheets import Tell

JUDGED: Final[dict[str, str]] = {
    INSIDE: N_("inside"),
    GUARD: N_("in the guard band"),
    OUTSIDE: N_("outside"),
}


def text(value: str | None) -> Cell:
    """A text, or a dash where there is none."""
    given = value or NOTHING
    return Cell(given, None if given == NOTHING else given)


def step_name(history: History, number: int | None) -> str:
    """A step's number and name; the number alone where the route has no such step."""
    step = history.card.by_number.get(number or -1)
    return f"{number} {step.name}" if step else str(number or "")


def readings_sheet(history: History, tell: Tell) -> Sheet:
    """Every reading with its limits, its gauge and how it was taken."""
    _ = tell.words._
    return Sheet(
        code="readings",
        title=_("Readings"),
        columns=(
            Column(name=_("characteristic"), head=True),
            Column(name=_("step")),
            Column(name=_("value"), kind=NUMBER),
            Column(name=_("standard uncertainty"), kind=NUMBER),
            Column(name=_("at least"), kind=NUMBER),
            Column(name=_("at most"), kind=NUMBER),
            Column(name=_("unit")),
            Column(name=_("judged")),
            Column(name=_("read at"), kind=MOMENT),
            Column(name=_("gauge")),
            Column(name=_("how")),
            Column(name=_("by")),
        ),
        rows=tuple(_reading_row(row, history, tell) for row in history.part.readings),
    )


def _reading_row(row: ReadingRow, history: History, tell: Tell) -> tuple[Cell, ...]:
    known = _known(row, history)
    digits = known.decimals if known else 3

    def figure(value: float | None) -> Cell:
        return Cell(tell.show.reading(value, digits), value)

    return (
        Cell(row.characteristic, row.characteristic),
        Cell(step_name(history, row.step)),
        figure(row.value),
        Cell(tell.show.standard(row.uncertainty), row.uncertainty),
        figure(known.lower if known else None),
        figure(known.upper if known else None),
        text(tell.show.unit(row.unit)),
        text(_judged(row, known, tell.words)),
        tell.moment(row.at_us),
        text(row.gauge),
        text(_how(row, tell)),
        text(row.actor),
    )


def _known(row: ReadingRow, history: History) -> Characteristic | None:
    step = history.card.by_number.get(row.step)
    return step.characteristic(row.characteristic) if step else None


def _judged(row: ReadingRow, known: Characteristic | None, words: Words) -> str:
    if row.suspect is not None:
        return words._("suspect: %(why)s", why=row.suspect)
    if known is None:
        return words._("inside") if row.inside else words._("outside")
    return words._(JUDGED[known.verdict(row.value, row.uncertainty)])


def _how(row: ReadingRow, tell: Tell) -> str | None:
    """Repeats, fixture, torque and temperature, where they were told."""
    _, show = tell.words._, tell.show
    told = [_("mean of %(n)s", n=show.count(row.repeats))] if row.repeats > 1 else []
    told += [_("fixture %(code)s", code=row.fixture)] if row.fixture else []
    if row.torque_n_m is not None:
        told.append(f"{show.reading(row.torque_n_m, 0)} N·m")
    if row.temperature_c is not None:
        told.append(f"{show.reading(row.temperature_c, 0)} °C")
    return ", ".join(told) or None


def conformity_sheet(history: History, tell: Tell) -> Sheet:
    """How probable it is that each characteristic as last read conforms.

    For the quality engineer, who sentences by it; the Bench decides by its rule alone.
    """
    _ = tell.words._
    last: dict[tuple[int, str], ReadingRow] = {}
    for row in history.part.readings:
        last[row.step, row.characteristic] = row
    rows = [
        (row, known, row.uncertainty)
        for row in last.values()
        if (known := _known(row, history)) is not None
    ]
    return Sheet(
        code="conformity",
        title=_("Probability of conformity"),
        columns=(
            Column(name=_("characteristic"), head=True),
            Column(name=_("step")),
            Column(name=_("value"), kind=NUMBER),
            Column(name=_("standard uncertainty"), kind=NUMBER),
            Column(name=_("unit")),
            Column(name=_("decided by")),
            Column(name=_("probability of conformity"), kind=SHARE, unit="%"),
        ),
        rows=tuple(
            (
                Cell(row.characteristic, row.characteristic),
                Cell(step_name(history, row.step)),
                Cell(tell.show.reading(row.value, known.decimals), row.value),
                Cell(tell.show.standard(u), u),
                text(tell.show.unit(row.unit)),
                text(_("guard band") if known.guarded else _("limits alone")),
                _probability(row.value, known, u, tell),
            )
            for row, known, u in rows
        ),
        note=_("normal distribution, JCGM 106:2012"),
    )


def _probability(
    value: float, known: Characteristic, uncertainty: float | None, tell: Tell
) -> Cell:
    if uncertainty is None or not known.limits.sides():
        return Cell(NOTHING)
    share = probability_of_conformity(value, known.limits, uncertainty)
    return Cell(tell.show.bare_percent(share), share)
