"""Papers that go with parts: labels with a Data Matrix, route cards with boxes to fill in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select

from ringwright.bench.queries import find_serial
from ringwright.core.errors import Missing, Refused
from ringwright.db import FOREVER_US
from ringwright.kit.scanned import scanned_text
from ringwright.ledger.service import Read
from ringwright.parts.queries import PartCard, read_part
from ringwright.parts.tables import PartMark, Visit
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.queries import card_finder

MOST: Final = 100
"""Papers printed at once; more is a job for a second press."""
ON_A_SHEET: Final = 24
"""Labels of 70 by 37 mm on A4, three across (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """One step on a part's card: what is to be done, and what was done."""

    step: Step
    visits: tuple[Any, ...]
    """Its ended visits, oldest first: outcome, end_us, actor."""
    here: bool
    """The step in work or awaited."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One part to be printed."""

    part: PartCard
    card: RouteCard
    lines: tuple[StepLine, ...]

    @property
    def shown(self) -> str:
        """What the part bears: its mark, else its serial."""
        return self.part.mark or self.part.serial


def asked_for(text: str) -> tuple[str, ...]:
    """The serials typed or scanned, one a line, each once; raises Refused for too many."""
    lines = [scanned_text(line) for line in text.splitlines()]
    found = tuple(dict.fromkeys(line for line in lines if line))
    if len(found) > MOST:
        raise Refused(f"{len(found)} papers at once are too many; print {MOST} at a time")
    return found


def read_papers(read: Read, serials: Sequence[str]) -> tuple[list[Paper], list[str]]:
    """(the papers in the order asked for, why others have none)."""
    papers, lacking = [], []
    find_card = card_finder(read.connection, read.site.id)
    for serial in serials:
        try:
            part = read_part(read, _borne(read, find_serial(read, serial)))
        except (Missing, Refused) as trouble:
            lacking.append(trouble.message)
            continue
        card = find_card(part.product, part.revision)
        papers.append(Paper(part=part, card=card, lines=_lines(read, part, card)))
    return papers, lacking


def _borne(read: Read, text: str) -> str:
    """What the part bears now: a label is printed anew for a part whose old mark is retired."""
    marks = select(PartMark.mark, PartMark.serial, PartMark.retired)
    row = read.connection.execute(
        marks.where(PartMark.site_id == read.site.id, PartMark.mark == text)
    ).first()
    if row is None or not row.retired:
        return text
    of_part = marks.where(PartMark.site_id == read.site.id, PartMark.serial == row.serial)
    now = read.connection.execute(of_part.where(PartMark.retired.is_(False))).first()
    return text if now is None else str(now.mark)


def _lines(read: Read, part: PartCard, card: RouteCard) -> tuple[StepLine, ...]:
    query = (
        select(Visit.step, Visit.outcome, Visit.end_us, Visit.actor)
        .where(
            Visit.site_id == read.site.id,
            Visit.serial == part.serial,
            Visit.known_to_us == FOREVER_US,
            Visit.end_us < FOREVER_US,
            Visit.step.is_not(None),
        )
        .order_by(Visit.number)
    )
    done: dict[int, list[Any]] = {}
    for row in read.connection.execute(query):
        if row.outcome is not None:
            done.setdefault(row.step, []).append(row)
    return tuple(
        StepLine(
            step=step, visits=tuple(done.get(step.number, ())), here=part.step == step.number
        )
        for step in card.steps
    )
