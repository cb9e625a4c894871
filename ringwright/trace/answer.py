"""What a suspect touched, as one sentence, and the words for suspects and parts. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.flow.loads import load_name, parse_load
from ringwright.kit.numbers import Figures
from ringwright.kit.words import Words
from ringwright.trace.question import Question, step_of
from ringwright.trace.touched import HERE, SCRAPPED, SENT, USED, Touched

LONGEST: Final = 90
"""Letters of an answer; clauses are left out from the right until it fits."""

KIND_WORDS: Final = {
    "station": N_("Station"),
    "run": N_("Run"),
    "lot": N_("Lot"),
    "gauge": N_("Gauge"),
    "person": N_("Person"),
    "step": N_("Step"),
    "defect": N_("Defect"),
    "part": N_("Part"),
}
HOW_WORDS: Final = {
    "visit": N_("visited"),
    "created": N_("made from the lot"),
    "reading": N_("read"),
    "stop": N_("stopped"),
    "itself": N_("the part itself"),
    "made": N_("made from a touched part"),
}


@dataclass(frozen=True)
class Piece:
    """A stretch of the answer; `needs` is what the proofing colour underlines."""

    text: str
    needs: bool = False


def suspect_name(question: Question, zone: str, words: Words, show: Figures) -> str:
    """The suspect as a sentence names it: INF-1, lot L-1, step 20 of PLATE."""
    value = question.value
    match question.kind:
        case "run" if "@" in value:
            return load_name(*parse_load(value, zone), zone, show)
        case "lot":
            return words._("Lot %(lot)s", lot=value)
        case "gauge":
            return words._("Gauge %(gauge)s", gauge=value)
        case "step":
            product, number = step_of(value)
            return words._("Step %(step)s of %(product)s", step=number, product=product)
        case "defect":
            return words._("Defect “%(defect)s”", defect=value)
        case _:
            return value


def parts_text(touched: Touched, n: int, words: Words, show: Figures) -> str:
    """So many blades, cases or parts, as the touched ones are called."""
    families = {card.family for card in touched.cards.values()}
    count = show.count(n)
    if families and families <= {"fan-blade", "turbine-blade"}:
        return words.ngettext("%(count)s blade", "%(count)s blades", n, count=count)
    if families == {"case"}:
        return words.ngettext("%(count)s case", "%(count)s cases", n, count=count)
    return words.ngettext("%(count)s part", "%(count)s parts", n, count=count)


def answer(touched: Touched, words: Words, show: Figures) -> tuple[Piece, ...]:
    """What was touched and where it is: "INF-1 touched 32 blades: 30 are here and held …"."""
    name = suspect_name(touched.question, touched.zone, words, show)
    n = len(touched.parts)
    if n == 0:
        return (Piece(words._("%(suspect)s touched no part in that time.", suspect=name)),)
    parts = parts_text(touched, n, words, show)
    if touched.question.kind == "part":
        head = words._(
            "%(suspect)s and what was made of it: %(parts)s", suspect=name, parts=parts
        )
    else:
        head = words._("%(suspect)s touched %(parts)s", suspect=name, parts=parts)
    clauses = _clauses(touched, words, show)
    while len(clauses) > 1 and _letters(head, clauses) > LONGEST:
        clauses.pop()
    pieces = [Piece(f"{head}: ")]
    for clause in clauses:
        pieces += [Piece(", "), clause] if len(pieces) > 1 else [clause]
    return (*pieces, Piece("."))


def _letters(head: str, clauses: Sequence[Piece]) -> int:
    return len(head) + sum(len(clause.text) + 2 for clause in clauses)


def _clauses(touched: Touched, words: Words, show: Figures) -> list[Piece]:
    """What is still loose first: here, sent, scrapped, used up for others."""
    found = []
    here, held = touched.count(HERE), touched.held
    if here:
        found.append(Piece(_here_text(here, held, words, show), held < here))
    sent = touched.count(SENT)
    if sent:
        text = words.ngettext(
            "%(count)s is sent", "%(count)s are sent", sent, count=show.count(sent)
        )
        found.append(Piece(text, bool(touched.untold)))
    scrapped = touched.count(SCRAPPED)
    if scrapped:
        text = words.ngettext(
            "%(count)s was scrapped",
            "%(count)s were scrapped",
            scrapped,
            count=show.count(scrapped),
        )
        found.append(Piece(text))
    used = touched.count(USED)
    if used:
        text = words.ngettext(
            "%(count)s went into another",
            "%(count)s went into others",
            used,
            count=show.count(used),
        )
        found.append(Piece(text))
    return found


def _here_text(here: int, held: int, words: Words, show: Figures) -> str:
    count = show.count(here)
    if held == here:
        return words.ngettext(
            "%(count)s is here and held", "%(count)s are here and held", here, count=count
        )
    if not held:
        return words.ngettext(
            "%(count)s is here, not held", "%(count)s are here, none held", here, count=count
        )
    return words.ngettext(
        "%(count)s is here, %(held)s held",
        "%(count)s are here, %(held)s held",
        here,
        count=count,
        held=show.count(held),
    )
