"""The story judged by the rules of the record before it is written: nothing impossible."""

from __future__ import annotations

from collections.abc import Sequence

from ringwright.core.errors import RingwrightError
from ringwright.core.facts import Entry
from ringwright.furnaces.rules import Run
from ringwright.furnaces.rules import apply as apply_to_run
from ringwright.parts.knowledge import fold
from ringwright.parts.rules import apply
from ringwright.parts.state import Part
from ringwright.routecards.card import RouteCard
from seed_demo.told import Told


class StoryRefused(RingwrightError):
    """The story tells something that the rules of the record refuse: a fault of the demo."""

    code = "story-refused"


class Judge:
    """Applies every fact of every part and furnace run, as a bench would."""

    def __init__(self, cards: Sequence[RouteCard]) -> None:
        self._cards = {(card.product, card.revision): card for card in cards}
        self._parts: dict[str, Part] = {}
        self._facts: dict[str, list[Entry]] = {}
        self._runs: dict[str, Run] = {}
        self._count = 0

    def take(self, told: Sequence[Told]) -> None:
        """Judge more of the story; raises StoryRefused."""
        for one in told:
            self._count += 1
            if one.subject_kind == "part":
                self._part(one)
            elif one.subject_kind == "run":
                self._run(one)

    def _run(self, one: Told) -> None:
        data = one.data
        if one.kind == "readings-kept":  # its digest is not known before it is packed
            told = {"digest": f"{one.subject}/{data['first']}", "samples": 1}
            data = {**told, "first_us": one.at_us, "last_us": one.at_us}
        entry = Entry(
            self._count, one.kind, one.at_us, one.at_us, one.actor, one.station, None, data
        )
        try:
            apply_to_run(self._runs.setdefault(one.subject, Run(one.subject)), entry)
        except RingwrightError as refusal:
            raise StoryRefused(f"{one}: {refusal.message}") from refusal

    def _part(self, one: Told) -> None:
        facts = self._facts.setdefault(one.subject, [])
        data, corrects = refer(one, [entry.seq for entry in facts] if one.ref >= 0 else ())
        entry = Entry(
            self._count, one.kind, one.at_us, one.at_us, one.actor, one.station, corrects, data
        )
        facts.append(entry)
        try:
            if one.kind == "correct":
                self._parts[one.subject] = fold(one.subject, facts, self._card)
                return
            part = self._parts.get(one.subject)
            if part is None:
                part = self._parts[one.subject] = Part(one.subject)
            apply(part, entry, self._card)
        except RingwrightError as refusal:
            raise StoryRefused(f"{one}: {refusal.message}") from refusal

    def _card(self, product: str, revision: str) -> RouteCard:
        return self._cards[product, revision]


def refer(one: Told, own: Sequence[int]) -> tuple[dict[str, object], int | None]:
    """The particulars with the entry they speak of, and the entry they correct.

    `own` holds the numbers of the part's facts so far, in the order told.
    """
    if one.ref < 0:
        return one.data, None
    if one.kind == "correct":
        return one.data, own[one.ref]
    if one.kind in ("doubt", "trust"):
        return {**one.data, "readings": [own[place] for place in one.data["readings"]]}, None
    return {**one.data, "nonconformity": own[one.ref]}, None
