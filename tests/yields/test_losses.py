"""What scrap cost: material, hours in work and in the cell, by who caused and who found."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ringwright.core.instants import parse_instant
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from ringwright.yields.board import make_board
from ringwright.yields.depth import read_lost
from ringwright.yields.loss_words import LossWords
from ringwright.yields.losses import Lost, by_reason, together
from ringwright.yields.model import Question
from tests.make.floor import CODE, Floor
from tests.yields.conftest import make_fans


def test_the_hours_of_scrapped_parts_are_those_of_their_bookings(floor: Floor) -> None:
    """Three blades: Form 9 to 10, Inflate 11 to 14, Measure from 15 until their scrap."""
    make_fans(floor)
    question = Question(product="FAN", first="2026-W38", last="2026-W40")
    with floor.ledger.read(CODE) as read:
        sheet, parts = read_lost(read, question)
    with floor.ledger.read(CODE, parse_instant("2026-09-25T00:00+02:00")) as read:
        before = read_lost(read, question)[1]

    assert [part.serial for part in parts] == ["B2-1", "B2-2", "B2-3"]
    assert before == ()
    for part in parts:
        measure_h = part.elapsed_h - 7.0  # created at 8, measured from 15 on
        assert part.touch_h == pytest.approx(1.0 + 3.0 + measure_h, abs=0.02)
        assert part.touch_working_h <= part.touch_h + 0.02  # the stop is a pause
        assert part.elapsed_working_h <= part.elapsed_h
        assert part.mass_kg is None
    whole = together(None, parts)
    caused = by_reason(parts, lambda part: part.caused)
    found = by_reason(parts, lambda part: part.found)
    assert [(one.key, one.parts) for one in caused] == [(20, 3)]
    assert [(one.key, one.parts) for one in found] == [(30, 3)]
    assert sum(one.touch_h for one in caused) == pytest.approx(whole.touch_h)
    words, show = words_of("en"), Figures("en")
    lists = LossWords(make_board(sheet, words, show), parts, words, show)
    assert lists.answer().endswith("of work; their material: not known.")
    book = lists.book(lists.sheets(lambda serial: f"/parts/{serial}"))
    assert "3 scrapped = 0 weighed + 3 not weighed" in book.reconciliation
    assert "3 parts listed = 3 counted as scrapped" in book.reconciliation


def test_masses_are_summed_and_what_was_not_weighed_is_said() -> None:
    one = Lost(serial="A", at_us=0, defect="d", place="", found=1, caused=1, mass_kg=4.2,
               touch_h=1, touch_working_h=1, elapsed_h=2, elapsed_working_h=1)  # fmt: skip
    loss = together(None, [one, replace(one, serial="B", mass_kg=None)])

    assert (loss.parts, loss.weighed, loss.mass_kg) == (2, 1, 4.2)
