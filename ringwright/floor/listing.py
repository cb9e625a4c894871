"""The parts behind a figure: narrowed by the address, the raised first, then the oldest."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final

from ringwright.core.glossary import N_
from ringwright.floor.asked import Asked
from ringwright.floor.board import Board, StepCount
from ringwright.floor.model import HOUR_US, FloorSheet, Standing
from ringwright.floor.troubles import hold_words
from ringwright.flow.loads import load_name
from ringwright.kit.cutoff import cut_off
from ringwright.kit.left import Left
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, NUMBER, TEXT, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.parts.windows import PartWindow

MOST_SHOWN: Final = 200
"""Rows on the page; the files hold them all."""
STATE_WORDS: Final[dict[str, str]] = {
    "waiting": N_("waiting"),
    "in-work": N_("in work"),
    "late": N_("late"),
    "held": N_("held"),
    "reserved": N_("reserved"),
    "sought": N_("looked for"),
    "raised": N_("goes first"),
    "window": N_("in a window"),
}
COUNTED: Final = ("waiting", "in-work", "late", "held", "raised", "sought")
"""What is counted at each step, in the order of its table."""
IS: Final[dict[str, Callable[[Standing], bool]]] = {
    "waiting": lambda part: not part.in_work,
    "in-work": lambda part: part.in_work,
    "late": lambda part: part.late,
    "held": lambda part: part.hold is not None,
    "reserved": lambda part: part.reservation is not None,
    "sought": lambda part: part.sought,
    "raised": lambda part: part.priority > 0,
    "window": lambda part: part.window is not None,
}


def narrow(parts: Iterable[Standing], asked: Asked) -> list[Standing]:
    """The parts asked for, those that go first before the others, then the oldest."""
    found = [part for part in parts if _asked_for(part, asked)]
    return sorted(found, key=lambda part: (-part.priority, part.since_us, part.serial))


def _asked_for(part: Standing, asked: Asked) -> bool:
    return (
        (asked.step is None or part.step == asked.step)
        and (asked.state is None or IS[asked.state](part))
        and (asked.whereabouts is None or asked.whereabouts in part.whereabouts)
        and (asked.lot is None or asked.lot in (part.lot, part.used_lot))
        and (asked.station is None or asked.station == part.station)
    )


@dataclass(frozen=True, slots=True)
class Links:
    """Where the cells of a part lead on the page: the part, its priority, a search for it."""

    part: Callable[[str], str]
    priority: Callable[[str], str]
    search: Callable[[str], str]


NOWHERE: Final = Links(lambda _: "", lambda _: "", lambda _: "")


class Lists:
    """The figures of the floor as sheets, in the reader's words."""

    def __init__(self, sheet: FloorSheet, words: Words, show: Figures) -> None:
        self.sheet, self.words, self.show = sheet, words, show

    def parts(
        self, parts: list[Standing], links: Links = NOWHERE, most: int | None = None
    ) -> Sheet:
        """Parts where they stand; `most`: how many rows the page shows."""
        return Sheet(
            code="parts",
            title=self.words._("Parts"),
            columns=self._part_columns(),
            rows=tuple(self._part(part, links) for part in parts[:most]),
            of=len(parts),
        )

    def _part_columns(self) -> tuple[Column, ...]:
        _ = self.words._
        return (
            Column(name=_("part"), head=True),
            Column(name=_("product")),
            Column(name=_("step")),
            Column(name=_("state")),
            Column(name=_("since"), kind=MOMENT),
            Column(name=_("there"), kind=NUMBER, unit="h"),
            Column(name=_("plan"), kind=NUMBER, unit="h"),
            Column(name=_("hold"), kind=TEXT),
            Column(name=_("reserved for"), kind=TEXT),
            Column(name=_("window until"), kind=MOMENT),
            Column(name=_("lies at"), kind=TEXT),
            Column(name=_("load"), kind=TEXT),
            Column(name=_("lot"), kind=TEXT),
            Column(name=_("last station"), kind=TEXT),
            Column(name=_("priority"), kind=TEXT),
            Column(name=_("search"), kind=TEXT),
        )

    def _part(self, part: Standing, links: Links) -> tuple[Cell, ...]:
        _, none = self.words._, Cell("")
        window = self._until(part.window) if part.window else none
        first = _("goes first") if part.priority else _("as they come")
        plan = none if part.plan_us is None else self._hours(part.plan_us)
        return (
            Cell(part.serial, part.serial, links.part(part.serial)),
            self._text(part.product),
            self._text(f"{part.step} {self.sheet.names.get((part.product, part.step), '')}"),
            self._text(self._state(part)),
            self._moment(part.since_us),
            self._hours(part.age_us),
            plan,
            self._text(hold_words(part.hold or "", self.words)),
            self._text(part.reservation or ""),
            window,
            self._text(", ".join(part.whereabouts)),
            self._text(self._load(part)),
            self._text(" / ".join(dict.fromkeys(filter(None, (part.lot, part.used_lot))))),
            self._text(part.station),
            Cell(first, first, links.priority(part.serial)),
            Cell(*self._search(part), links.search(part.serial)),
        )

    def _search(self, part: Standing) -> tuple[str, str]:
        said = self.words._("looked for") if part.sought else self.words._("not missing")
        return said, said

    def _state(self, part: Standing) -> str:
        """Place first, then all else that holds, in words."""
        said = ["in-work" if part.in_work else "waiting"]
        said += [state for state in ("late", "held", "reserved") if IS[state](part)]
        texts = [self.words._(STATE_WORDS[state]) for state in said]
        if part.window_over:
            texts.append(self.words._("window over"))
        return ", ".join(texts)

    def _load(self, part: Standing) -> str:
        for load in self.sheet.loads:
            if part.in_work and load.step == part.step and part.serial in load.serials:
                return load_name(load.station, load.begin_us, self.sheet.zone, self.show)
        return ""

    def steps(self, board: Board, link: Callable[[int, str], str] | None = None) -> Sheet:
        """What stands at each step; each figure leads to its parts."""
        _ = self.words._
        columns = (
            Column(name=_("step"), head=True),
            Column(name=_("parts"), kind=WHOLE),
            *(Column(name=_(STATE_WORDS[state]), kind=WHOLE) for state in COUNTED),
            Column(name=_("longest there"), kind=NUMBER, unit="h"),
            Column(name=_("part")),
        )
        rows = [self._step(row, link) for row in board.counts]
        rows.append(self._all_steps(board))
        return Sheet(
            code="steps", title=_("Steps of %(product)s", product=self.sheet.product),
            columns=columns, rows=tuple(rows),
        )  # fmt: skip

    def _step(self, row: StepCount, link: Callable[[int, str], str] | None) -> tuple[Cell, ...]:
        counts = [
            Cell(self.show.count(n), n, link(row.number, state) if link and n else "")
            for state, n in zip(COUNTED, row.counted, strict=True)
        ]
        age = None if row.oldest_us is None else self.sheet.now_us - row.oldest_us
        oldest = Cell(self.show.decimal(None)) if age is None else self._hours(age)
        name = self._text(f"{row.number} {row.name}")
        return (name, self._count(row.parts), *counts, oldest, self._text(row.oldest))

    def _all_steps(self, board: Board) -> tuple[Cell, ...]:
        sums = [sum(n) for n in zip(*(row.counted for row in board.counts), strict=True)]
        name = self._text(self.words._("all steps"))
        counts = [self._count(n) for n in sums or [0] * len(COUNTED)]
        return (name, self._count(board.total), *counts, Cell(""), Cell(""))

    def _count(self, n: int) -> Cell:
        return Cell(self.show.count(n), n)

    def shut(self) -> Sheet:
        """What is shut."""
        _ = self.words._
        names = (_("shut"), _("since"), _("reason"), _("who may open it"), _("by"))
        kinds = (TEXT, MOMENT, TEXT, TEXT, TEXT)
        columns = tuple(
            Column(name=name, kind=kind, head=name == names[0])
            for name, kind in zip(names, kinds, strict=True)
        )
        rows = tuple(
            (
                self._text(f"{one.kind} {one.code}"),
                self._moment(one.since_us),
                *(self._text(text) for text in (one.reason, one.opener, one.by)),
            )
            for one in self.sheet.shut
        )
        return Sheet(code="shut", title=_("Shut"), columns=columns, rows=rows)

    def _text(self, text: str) -> Cell:
        return Cell(text, text)

    def _moment(self, us: int) -> Cell:
        return Cell(f"{self.show.day(us, self.sheet.zone)} {self._clock(us)}", us)

    def _until(self, window: PartWindow) -> Cell:
        """When its window is over, with the time left."""
        over = self.words._("window ran out")
        left = Left(until_us=window.deadline_us, left_us=window.left_us, over=over)
        return replace(self._moment(window.deadline_us), left=left)

    def _clock(self, us: int) -> str:
        return self.show.clock(us, self.sheet.zone)

    def _hours(self, us: int) -> Cell:
        return Cell(self.show.decimal(us / HOUR_US), us / HOUR_US)


def make_book(board: Board, words: Words, show: Figures) -> Book:
    """The Floor page as a book: steps, what is shut, and every part."""
    sheet, lists = board.sheet, Lists(board.sheet, words, show)
    return Book(
        page="floor",
        question=words._("Where does the work stand, and what is stuck?"),
        answer="".join(piece.text for piece in board.answer),
        filters=_site_and(sheet, words, ((words._("Product"), sheet.product),)),
        cut_off=cut_off(sheet, words, show),
        zone=sheet.zone,
        at_us=sheet.now_us,
        sheets=(
            lists.steps(board), lists.shut(), lists.parts(narrow(sheet.parts, Asked())),
        ),
        reconciliation=(_reconciled(board, words, show),),
    )  # fmt: skip


def parts_book(
    sheet: FloorSheet, parts: list[Standing], asked: Asked, words: Words, show: Figures
) -> Book:
    """The list of parts as a book: every row, however many the page shows."""
    _ = words._
    standing = _("%(n)s of %(all)s parts standing", n=len(parts), all=len(sheet.parts))
    return Book(
        page="floor-parts",
        question=_("Which parts are these?"),
        answer=standing,
        filters=_site_and(sheet, words, filters_of(asked, words)),
        cut_off=cut_off(sheet, words, show),
        zone=sheet.zone,
        at_us=sheet.now_us,
        sheets=(Lists(sheet, words, show).parts(parts),),
    )


def filters_of(asked: Asked, words: Words) -> tuple[tuple[str, str], ...]:
    """(word, value) of everything that narrows the list."""
    _ = words._
    state = _(STATE_WORDS[asked.state]) if asked.state else None
    pairs = (
        (_("Product"), asked.product),
        (_("Step"), asked.step),
        (_("State"), state),
        (_("Lies at"), asked.whereabouts),
        (_("Lot"), asked.lot),
        (_("Station"), asked.station),
    )
    return tuple((word, str(value)) for word, value in pairs if value is not None)


def _site_and(
    sheet: FloorSheet, words: Words, more: tuple[tuple[str, str], ...]
) -> tuple[tuple[str, str], ...]:
    return ((words._("Site"), sheet.site_name or sheet.site), *more)


def _reconciled(board: Board, words: Words, show: Figures) -> str:
    waiting = sum(row.waiting for row in board.counts)
    in_work = sum(row.in_work for row in board.counts)
    return words._(
        "%(all)s standing = %(waiting)s waiting + %(in_work)s in work",
        all=show.count(board.total), waiting=show.count(waiting), in_work=show.count(in_work),
    )  # fmt: skip
