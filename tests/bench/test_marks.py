"""The shift's tally draws one mark for each part, whatever became of it."""

from __future__ import annotations

from ringwright.bench.board import DRAWN_MARKS, _marks
from ringwright.bench.queries import ShiftCount


def test_every_end_and_stop_of_the_shift_has_its_mark() -> None:
    marks = _marks(ShiftCount(passed=3, reworked=1, stopped=2))

    assert marks == ("passed", "passed", "passed", "rework", "stopped", "stopped")


def test_a_long_shift_draws_as_many_of_a_kind_as_fit() -> None:
    assert len(_marks(ShiftCount(passed=500, reworked=0, stopped=0))) == DRAWN_MARKS
