"""An answer is worked out again as soon as the record, the moment or the question differs."""

from __future__ import annotations

import itertools

from ringwright.ledger.remembered import Remembered
from tests.make.floor import CODE, MINUTE_US, Floor


class Asker:
    """Asks a floor and counts how often the answer had to be worked out."""

    def __init__(self, floor: Floor, most: int = 32) -> None:
        self.floor = floor
        self.known = Remembered[int](most)
        self.numbers = itertools.count(1)

    def ask(self, question: str = "week", as_of_us: int | None = None) -> int:
        with self.floor.ledger.read(CODE, as_of_us) as read:
            return self.known.answer(read, question, lambda: next(self.numbers))


def test_the_same_question_at_the_same_head_and_moment_is_worked_out_once(
    sqlite_floor: Floor,
) -> None:
    asker = Asker(sqlite_floor)

    assert [asker.ask(), asker.ask(), asker.ask("other"), asker.ask()] == [1, 1, 2, 1]


def test_a_booking_at_the_same_moment_makes_it_be_worked_out_anew(sqlite_floor: Floor) -> None:
    asker = Asker(sqlite_floor)
    asker.ask()
    sqlite_floor.clock.at_us -= MINUTE_US
    sqlite_floor.book("create", "A")

    assert asker.ask() == 2


def test_another_moment_or_a_past_one_is_another_answer(sqlite_floor: Floor) -> None:
    asker = Asker(sqlite_floor)
    now_us = sqlite_floor.clock.at_us
    asker.ask()

    assert asker.ask(as_of_us=now_us) == 2
    sqlite_floor.clock.at_us += MINUTE_US
    assert asker.ask() == 3


def test_only_the_newest_answers_are_kept(sqlite_floor: Floor) -> None:
    asker = Asker(sqlite_floor, most=2)

    assert [asker.ask(name) for name in "abacab"] == [1, 2, 1, 3, 1, 4]


def test_what_is_forgotten_is_worked_out_anew(sqlite_floor: Floor) -> None:
    asker = Asker(sqlite_floor)
    asker.ask()
    asker.known.forget()

    assert asker.ask() == 2
