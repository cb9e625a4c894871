"""What helps a person to name a suspect: stations, people, steps, recent gauges."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ringwright.ledger.service import Read
from ringwright.routecards.queries import read_revisions
from ringwright.trace.queries import near_serials


@dataclass(frozen=True, kw_only=True)
class Chooser:
    """What there is to choose from, beside the stations and people of the screen."""

    steps: tuple[tuple[str, str], ...]
    """(value in the address, words) of every step of every product."""
    near: tuple[str, ...]
    """Serials like the one that was asked for and is not there."""


def read_chooser(read: Read, asked: Mapping[str, str]) -> Chooser:
    """The choices; where a part was asked for that is not there, serials like it."""
    steps: dict[str, str] = {}
    for revision in read_revisions(read.connection, read.site.id):
        for step in revision.card.steps:
            value = f"{revision.product}/{step.number}"
            steps[value] = f"{revision.product}, {step.number} {step.name}"
    part = asked.get("part", "").strip()
    return Chooser(
        steps=tuple(steps.items()), near=tuple(near_serials(read, part)) if part else ()
    )
