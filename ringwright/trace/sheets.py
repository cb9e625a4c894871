"""The figures of Traceability as sheets: touched parts, runs, places."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.parts.words import PLACE_WORDS
from ringwright.trace.answer import HOW_WORDS, KIND_WORDS
from ringwright.trace.rows import Occasion, Place
from ringwright.trace.standing import Standing
from ringwright.trace.touched import Touched, TouchedPart

MOST_LISTED = 200
"""Parts listed on the screen; the file holds them all."""

Link = Callable[[str], str]
"""A serial to the address of its history."""


class Tell:
    """Words and figures of one reader at one moment of one site."""

    def __init__(self, words: Words, show: Figures, zone: str, now_us: int) -> None:
        self.words = words
        self.show = show
        self.zone = zone
        self.now_us = now_us
        self._moments: dict[int, Cell] = {}

    def moment(self, us: int | None) -> Cell:
        """An instant as it is shown, and in full; the parts of a load share theirs."""
        if us is None:
            return Cell(NOTHING)
        if us not in self._moments:
            self._moments[us] = Cell(self.show.moment(us, self.zone, self.now_us), us)
        return self._moments[us]

    def count(self, n: int) -> Cell:
        """A count."""
        return Cell(self.show.count(n), n)

    def place(self, one: Standing) -> str:
        """Place in the flow, with the step where there is one."""
        word = self.words._(PLACE_WORDS[one.place])
        number = one.scrapped_at if one.place == "scrapped" else one.step
        if number is not None:
            word = self.words._("%(place)s at step %(step)s", place=word, step=number)
        return self._kept(one, word)

    def _kept(self, one: Standing, word: str) -> str:
        """The place, and the set that the part is kept for or stands in."""
        if one.reserved is None:
            return word
        if one.slot is None:
            return self.words._("%(place)s, reserved for %(set)s", place=word, set=one.reserved)
        return self.words._(
            "%(place)s, slot %(slot)s of %(set)s", place=word, slot=one.slot, set=one.reserved
        )

    def whereabouts(self, one: Standing) -> str:
        """Where it lies: a rack, or a container and where that stands."""
        if not one.whereabouts:
            return NOTHING
        if one.carrier_at:
            return self.words._(
                "%(carrier)s, at %(place)s", carrier=one.whereabouts, place=one.carrier_at
            )
        return one.whereabouts

    def notice(self, one: Standing) -> str:
        """Whether those who have it were told."""
        if one.open_notices:
            return self.words._("open: %(codes)s", codes=", ".join(one.open_notices))
        if one.told:
            return self.words._("sent to %(to)s", to=", ".join(to for _, to in one.told))
        return NOTHING


def parts_sheet(touched: Touched, tell: Tell, link: Link | None = None) -> Sheet:
    """Every touched part and where it is; `link` leads to its history on the page."""
    _ = tell.words._
    return Sheet(
        code="parts",
        title=_("Touched parts"),
        columns=(
            Column(name=_("part"), head=True),
            Column(name=_("product")),
            Column(name=_("stands")),
            Column(name=_("lies at")),
            Column(name=_("hold")),
            Column(name=_("containment")),
            Column(name=_("notice")),
            Column(name=_("lot")),
            Column(name=_("touched")),
            Column(name=_("first touched"), kind=MOMENT),
            Column(name=_("last touched"), kind=MOMENT),
            Column(name=_("times"), kind=WHOLE),
        ),
        rows=tuple(_part_row(part, tell, link) for part in touched.parts),
    )


def _part_row(part: TouchedPart, tell: Tell, link: Link | None) -> tuple[Cell, ...]:
    one = part.standing
    how = ", ".join(dict.fromkeys(tell.words._(HOW_WORDS[t.how]) for t in part.touches))
    if part.made_from:
        how = tell.words._("made from %(parent)s", parent=part.made_from)
    return (
        Cell(part.serial, part.serial, link(part.serial) if link else ""),
        _text(one.product),
        _text(tell.place(one)),
        _text(tell.whereabouts(one)),
        _text(one.hold or NOTHING),
        _text(", ".join(one.contained) or NOTHING),
        _text(tell.notice(one)),
        _text(one.lot or NOTHING),
        _text(how),
        tell.moment(part.touches[0].at_us),
        tell.moment(part.touches[-1].at_us),
        tell.count(len(part.touches)),
    )


def _text(text: str) -> Cell:
    return Cell(text, None if text == NOTHING else text)


def occasions_sheet(rows: tuple[tuple[str, Occasion], ...], tell: Tell) -> Sheet:
    """The left side of the picture: when, and how many parts."""
    _ = tell.words._
    return Sheet(
        code="occasions",
        title=_("When they were touched last"),
        columns=(
            Column(name=_("when"), head=True),
            Column(name=_("first touch in it"), kind=MOMENT),
            Column(name=_("parts"), kind=WHOLE),
        ),
        rows=tuple(
            (Cell(name, name), tell.moment(row.at_us), tell.count(len(row.parts)))
            for name, row in rows
        ),
    )


def places_sheet(rows: tuple[tuple[str, Place], ...], tell: Tell) -> Sheet:
    """The right side of the picture: where, how many parts, how many of them held."""
    _ = tell.words._
    return Sheet(
        code="places",
        title=_("Where they are"),
        columns=(
            Column(name=_("place"), head=True),
            Column(name=_("parts"), kind=WHOLE),
            Column(name=_("held"), kind=WHOLE),
        ),
        rows=tuple(
            (Cell(name, name), tell.count(len(row.parts)), tell.count(row.held))
            for name, row in rows
        ),
    )


def cut(sheet: Sheet, most: int = MOST_LISTED) -> Sheet:
    """The sheet as the screen shows it: the first rows, and how many there are."""
    if len(sheet.rows) <= most:
        return sheet
    return replace(sheet, rows=sheet.rows[:most], of=len(sheet.rows))


def cut_off(tell: Tell, head_seq: int, head_hash: str, as_of_us: int | None) -> str:
    """As of when, in which zone, from which entry: the foot of a page and of its file."""
    _ = tell.words._
    moment = tell.show.full(tell.now_us, tell.zone)
    when = _("as of %(moment)s", moment=moment) if as_of_us is None else _(
        "as of %(moment)s, then known", moment=moment
    )  # fmt: skip
    entry = _(
        "from entry %(entry)s, head %(head)s",
        entry=tell.show.count(head_seq),
        head=f"{head_hash[:4]} {head_hash[4:8]}",
    )
    return f"{when} ({tell.zone}), {entry}"


def filters(touched: Touched, tell: Tell) -> tuple[tuple[str, str], ...]:
    """What was asked, in words."""
    question = touched.question
    found = [(tell.words._(KIND_WORDS[question.kind]), question.value)]
    for word, us in (
        (tell.words._("from"), question.from_us),
        (tell.words._("to"), question.to_us),
    ):
        if us is not None:
            found.append((word, tell.show.full(us, tell.zone)))
    return tuple(found)


def touched_book(
    touched: Touched, said: tuple[str, str], sheets: tuple[Sheet, ...], tell: Tell
) -> Book:
    """The whole page as a book; `said` is its question and its answer."""
    here = {fate: touched.count(fate) for fate in ("here", "sent", "scrapped", "used")}
    line = tell.words._(
        "Touched %(all)s = here %(here)s + sent %(sent)s + scrapped %(scrapped)s + "
        "used for others %(used)s",
        all=tell.show.count(len(touched.parts)),
        **{fate: tell.show.count(n) for fate, n in here.items()},
    )
    return Book(
        page="traceability",
        question=said[0],
        answer=said[1],
        filters=filters(touched, tell),
        cut_off=cut_off(tell, touched.head_seq, touched.head_hash, touched.as_of_us),
        zone=touched.zone,
        at_us=touched.now_us,
        sheets=sheets,
        reconciliation=(line,),
    )
