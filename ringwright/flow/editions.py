"""The published number beside the number now, and what changed since: as the page draws it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ringwright.core.glossary import N_
from ringwright.flow.model import WeekNumbers
from ringwright.flow.published import MOST_LATER, Edition, Later, Publication
from ringwright.flow.publishing import numbers_digest
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Cell, Column, Sheet
from ringwright.kit.words import Words

EntryLink = Callable[[str, int], str]
"""The address of an entry of a part."""

HEADLINE: Final = (
    (N_("output, parts"), "output", 0),
    (N_("scrapped, parts"), "scrapped", 0),
    (N_("created, parts"), "created", 0),
    (N_("target, parts"), "target", 0),
    (N_("in the cell at the end, parts"), "wip", 0),
    (N_("cycle time, median, h"), "cycle_time_h.median", 1),
    (N_("cycle time, mean, h"), "cycle_time_h.mean", 1),
    (N_("cycle time, 90th percentile, h"), "cycle_time_h.p90", 1),
    (N_("rolled throughput yield, %%"), "rolled_throughput_yield", 1),
    (N_("final yield, %%"), "final_yield.value", 1),
)
"""Figures compared: how they are named, where they stand, with how many decimals."""
OF_A_STEP: Final = (
    (N_("first visits"), "first_visits", 0),
    (N_("first-pass yield, %%"), "first_pass_yield.value", 1),
    (N_("visits ended"), "visits", 0),
    (N_("rework ratio, %%"), "rework_ratio", 1),
    (N_("touch, median, h"), "touch_h_median", 1),
    (N_("queue, median, h"), "queue_h_median", 1),
)
SHARES: Final = ("yield", "ratio")

KIND_WORDS: Final[dict[str, str]] = {
    "create": N_("created"), "begin": N_("begun"), "end": N_("ended"),
    "pause": N_("paused"), "resume": N_("resumed"), "measure": N_("read"),
    "hold": N_("held"), "unhold": N_("hold lifted"), "stop": N_("stopped"),
    "sentence": N_("sentenced"), "correct": N_("corrected"), "send": N_("sent"),
    "move": N_("moved"), "join": N_("joined"), "split": N_("split"),
}  # fmt: skip
"""What was booked, in a word; another kind is told by its code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedBlock:
    """What stands under a product about the publishing of its week."""

    publication: Publication
    product: str
    output_now: int
    seen: str
    key: str
    begun: bool
    over: bool
    figures: Sheet | None
    later: Sheet | None
    editions: Sheet | None

    @property
    def next_edition(self) -> int:
        """The number that the next publication would have."""
        return len(self.publication.editions) + 1

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        """The sheets that there are."""
        found = (self.figures, self.later, self.editions)
        return tuple(sheet for sheet in found if sheet is not None)

    @property
    def differs(self) -> int:
        """How many figures are no more what was published."""
        return (
            0 if self.figures is None else sum(row[3].value != 0 for row in self.figures.rows)
        )


class Drawn:
    """Blocks of one page in one language."""

    def __init__(
        self, words: Words, show: Figures, zone: str, now_us: int, link: EntryLink
    ) -> None:
        self.words, self.show, self.zone = words, show, zone
        self.now_us, self.link = now_us, link

    def block(self, publication: Publication, numbers: WeekNumbers) -> PublishedBlock:
        """The block of one product."""
        newest, seen = publication.newest, numbers_digest(numbers)
        code, edition = numbers.product, len(publication.editions) + 1
        return PublishedBlock(
            publication=publication,
            product=code,
            output_now=numbers.output,
            seen=seen,
            # The same form, sent twice, is one edition.
            key=f"publish/{code}/{numbers.week}/{edition}/{seen[:16]}",
            begun=self.now_us >= numbers.start_us,
            over=self.now_us >= numbers.end_us,
            figures=self._figures(code, publication, newest) if newest else None,
            later=self._later(code, publication) if newest else None,
            editions=self._editions(code, publication) if newest else None,
        )

    def _figures(self, code: str, publication: Publication, edition: Edition) -> Sheet:
        _ = self.words._
        then, now = edition.numbers, publication.numbers_now
        return Sheet(
            code=f"{code} published",
            title=_("Then and now"),
            columns=(
                Column(name=_("figure"), head=True),
                Column(name=_("published"), kind=NUMBER),
                Column(name=_("now"), kind=NUMBER),
                Column(name=_("difference"), kind=NUMBER),
            ),
            rows=tuple(self._compared(then, now)),
        )

    def _compared(
        self, then: Mapping[str, Any], now: Mapping[str, Any]
    ) -> Iterator[tuple[Cell, ...]]:
        """The headline, then of each step what differs."""
        for name, path, places in HEADLINE:
            values = _value(then, path), _value(now, path)
            yield self._row(self.words._(name), *values, places)
        steps_then = {step["number"]: step for step in then["steps"]}
        steps_now = {step["number"]: step for step in now["steps"]}
        for number in sorted({*steps_then, *steps_now}):
            was, is_now = steps_then.get(number, {}), steps_now.get(number, {})
            step = f"{number} {(is_now or was)['name']}"
            for name, path, places in OF_A_STEP:
                values = _value(was, path), _value(is_now, path)
                if values[0] != values[1]:
                    yield self._row(f"{step}: {self.words._(name)}", *values, places)

    def _row(
        self, name: str, then: float | None, now: float | None, places: int
    ) -> tuple[Cell, ...]:
        difference = None if then is None or now is None else now - then
        if then is None and now is None:
            difference = 0
        shown = self.show.decimal(None)
        if difference is not None:
            shown = self.show.signed(difference, places)
        return (
            Cell(name), Cell(self._figure(then, places), then),
            Cell(self._figure(now, places), now), Cell(shown, difference),
        )  # fmt: skip

    def _figure(self, value: float | None, places: int) -> str:
        return self.show.decimal(value, places) if places else self.show.count(value)

    def _later(self, code: str, publication: Publication) -> Sheet:
        _ = self.words._
        found = publication.changes.later if publication.changes else ()
        return Sheet(
            code=f"{code} later entries",
            title=_("Later entries on this week"),
            columns=(
                Column(name=_("entry"), kind=WHOLE, head=True),
                Column(name=_("why it counts")),
                Column(name=_("booked")),
                Column(name=_("part")),
                Column(name=_("happened"), kind=MOMENT),
                Column(name=_("recorded"), kind=MOMENT),
                Column(name=_("by")),
            ),
            rows=tuple(self._entry(row) for row in found[:MOST_LATER]),
            of=len(found),
        )

    def _entry(self, row: Later) -> tuple[Cell, ...]:
        _, address = self.words._, self.link(row.serial, row.entry)
        return (
            Cell(self.show.count(row.entry), row.entry, link=address),
            Cell(_(row.why)),
            Cell(_(KIND_WORDS.get(row.kind, row.kind))),
            Cell(row.serial),
            self._moment(row.at_us),
            self._moment(row.recorded_us),
            Cell(row.actor),
        )

    def _editions(self, code: str, publication: Publication) -> Sheet:
        _ = self.words._
        return Sheet(
            code=f"{code} editions",
            title=_("Editions, the newest first"),
            columns=(
                Column(name=_("edition"), kind=WHOLE, head=True),
                Column(name=_("output, parts"), kind=WHOLE),
                Column(name=_("published"), kind=MOMENT),
                Column(name=_("by")),
                Column(name=_("from entry"), kind=WHOLE),
                Column(name=_("head")),
                Column(name=_("why again")),
            ),
            rows=tuple(self._edition(each) for each in reversed(publication.editions)),
        )

    def _edition(self, edition: Edition) -> tuple[Cell, ...]:
        return (
            Cell(self.show.count(edition.number), edition.number),
            Cell(self.show.count(edition.output), edition.output),
            self._moment(edition.at_us),
            Cell(edition.actor),
            Cell(self.show.count(edition.head_seq), edition.head_seq),
            Cell(edition.head_hash),
            Cell(edition.reason or ""),
        )

    def _moment(self, us: int) -> Cell:
        return Cell(self.show.full(us, self.zone), us)


def _value(numbers: Mapping[str, Any], path: str) -> float | None:
    """A figure as it is compared and shown: shares in per cent, the cell as one count."""
    found: Any = numbers
    for name in path.split("."):
        found = found.get(name) if found else None
    if isinstance(found, Mapping):
        return sum(found.values())
    if found is not None and any(word in path for word in SHARES):
        return 100.0 * float(found)
    return None if found is None else float(found) if isinstance(found, float) else int(found)
