"""The furnace week as drawn: rulers, words, sheets, in one language."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.core.calendar import week_before
from ringwright.flow.answer import Piece
from ringwright.flow.board import ptag_of
from ringwright.heatruns.load_words import LoadWords
from ringwright.heatruns.next_load import NextLoads
from ringwright.heatruns.week import FurnaceWeek, WeekOfFurnaces
from ringwright.heatruns.week_lists import WeekLists
from ringwright.heatruns.week_ruler import Axis, Ruler, Week, draw_axis, draw_ruler
from ringwright.heatruns.week_words import SHORT, WeekWords
from ringwright.kit.sheets import Book


@dataclass(frozen=True, kw_only=True)
class Strip:
    """One furnace: its week, its ruler, what stands beside it."""

    furnace: FurnaceWeek
    ruler: Ruler
    said: list[str]
    described: str


@dataclass(frozen=True, kw_only=True)
class WeekBoard:
    """Everything the page draws."""

    sheet: WeekOfFurnaces
    coming: NextLoads | None
    """The next loads; None for a week that is not the present one, or as of the past."""
    told: WeekWords
    next_told: LoadWords
    answer: tuple[Piece, ...]
    axis: Axis
    strips: tuple[Strip, ...]
    book: Book

    @property
    def before(self) -> str:
        """The week before."""
        return week_before(self.sheet.week)

    @property
    def after(self) -> str:
        """The week after."""
        return week_before(self.sheet.week, -1)

    @property
    def ptag(self) -> str:
        """What the panel shows: the newest entry, and the minute."""
        return ptag_of(self.sheet.head_seq, self.sheet.now_us)


def make_week_board(
    sheet: WeekOfFurnaces, coming: NextLoads | None, lists: WeekLists
) -> WeekBoard:
    """The board of a week in the words of its lists."""
    told = lists.told
    week = Week(
        start_us=sheet.start_us,
        end_us=sheet.end_us,
        now_us=sheet.until_us,
        planned=sheet.planned,
        words={state: lists.words._(word) for state, word in SHORT.items()},
    )
    return WeekBoard(
        sheet=sheet,
        coming=coming,
        told=told,
        next_told=lists.next_told,
        answer=told.answer(sheet, coming),
        axis=draw_axis(sheet.start_us, sheet.end_us, sheet.now_us, sheet.zone),
        strips=tuple(
            Strip(
                furnace=one,
                ruler=draw_ruler(one.runs, one.working, week),
                said=told.furnace(one),
                described=told.ruler(one),
            )
            for one in sheet.furnaces
        ),
        book=lists.book(sheet, coming),
    )
