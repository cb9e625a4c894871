"""From a suspect to every part it touched, and where each is now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.ledger.service import Read
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import card_finder
from ringwright.trace.genealogy import Edge, read_descendants
from ringwright.trace.queries import Touch, read_touches
from ringwright.trace.question import Question
from ringwright.trace.standing import Standing, read_standings

FATES = HERE, SENT, SCRAPPED, USED = ("here", "sent", "scrapped", "used")


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedPart:
    """One touched part: how it was touched, and how it stands."""

    standing: Standing
    touches: tuple[Touch, ...]
    """In the order of time, at least one."""

    @property
    def serial(self) -> str:
        """Its serial."""
        return self.standing.serial

    @property
    def made_from(self) -> str:
        """The touched part it was made from, where nothing else touched it."""
        return self.touches[0].made_from if self.touches[0].how == "made" else ""

    @property
    def fate(self) -> str:
        """Here, sent, scrapped, or used up for another part."""
        place = self.standing.place
        if place in (SENT, SCRAPPED):
            return place
        # A blade fitted in its set is still at hand; what was joined or parted is not.
        return USED if place == "fitted" and self.standing.slot is None else HERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """The whole answer to one question, from one snapshot."""

    question: Question
    site: str
    site_name: str
    zone: str
    now_us: int
    as_of_us: int | None
    head_seq: int
    head_hash: str
    parts: tuple[TouchedPart, ...]
    cards: Mapping[tuple[str, str], RouteCard]
    """(product, revision) to the route card of the parts."""

    @property
    def serials(self) -> tuple[str, ...]:
        """The touched parts, in order."""
        return tuple(part.serial for part in self.parts)

    def count(self, fate: str) -> int:
        """How many parts went that way."""
        return sum(part.fate == fate for part in self.parts)

    @property
    def held(self) -> int:
        """Those here that are on hold."""
        return sum(part.fate == HERE and part.standing.hold is not None for part in self.parts)

    @property
    def made(self) -> int:
        """Those touched only through what they were made from."""
        return sum(bool(part.made_from) for part in self.parts)

    @property
    def untold(self) -> tuple[TouchedPart, ...]:
        """Those sent without a notice that was sent as well."""
        return tuple(p for p in self.parts if p.fate == SENT and not p.standing.told)

    @property
    def containments(self) -> tuple[str, ...]:
        """Codes of the open containments of these parts, the commonest first."""
        codes = Counter(code for part in self.parts for code in part.standing.contained)
        return tuple(code for code, _ in codes.most_common())


def read_touched(read: Read, question: Question) -> Touched:
    """Every part the suspect touched, those made from touched parts too; where each is."""
    touches = read_touches(read, question)
    direct = list(dict.fromkeys(touch.serial for touch in touches))
    inherited = _made_from(read_descendants(read, direct), touches)
    by_serial: dict[str, list[Touch]] = {}
    for touch in (*touches, *inherited):
        by_serial.setdefault(touch.serial, []).append(touch)
    standings = read_standings(read, list(by_serial))
    parts = [
        TouchedPart(standing=standings[serial], touches=tuple(found))
        for serial, found in by_serial.items()
        if serial in standings
    ]
    find = card_finder(read.connection, read.site.id)
    kinds = {(part.standing.product, part.standing.revision) for part in parts}
    return Touched(
        question=question,
        site=read.site.code,
        site_name=read.site.name or read.site.code,
        zone=read.site.zone,
        now_us=read.now_us,
        as_of_us=read.as_of_us,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        parts=tuple(sorted(parts, key=lambda part: part.serial)),
        cards={kind: find(*kind) for kind in sorted(kinds)},
    )


MADE: Final = "made"


def _made_from(edges: Sequence[Edge], touches: Sequence[Touch]) -> list[Touch]:
    """A touch for each part that nothing touched but what it was made from.

    It counts from the moment it was made; of several touched parents the first is named.
    """
    there = {touch.serial for touch in touches}
    found: dict[str, Touch] = {}
    for edge in edges:
        if edge.child not in there and edge.child not in found:
            found[edge.child] = Touch(
                serial=edge.child, how=MADE, at_us=edge.at_us, end_us=edge.at_us,
                made_from=edge.parent,
            )  # fmt: skip
    return list(found.values())
