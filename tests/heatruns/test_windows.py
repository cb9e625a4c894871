"""A blade whose window ran out is not laid into a furnace, and no load starts with it."""

from __future__ import annotations

import pytest

from ringwright.bench.acts import Sentence, Stop
from ringwright.core.errors import Refused
from ringwright.heatruns.board import read_board
from ringwright.heatruns.words import FurnaceWords
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from ringwright.parts.windows import RAN_OUT
from tests.make.floor import CODE, DELEGATE, MAKER, MINUTE_US, SUPERVISOR
from tests.make.furnaces import Hall
from tests.make.second import signed

HOUR_US = 60 * MINUTE_US
WINDOW_US = 4 * HOUR_US
"""What the route of the hall's blades asks."""


def test_a_blade_cleaned_too_long_ago_is_not_laid_in(hall: Hall) -> None:
    hall.waiting("S-1")
    run = hall.open()
    hall.floor.clock.at_us += WINDOW_US

    with pytest.raises(Refused, match="the window of S-1 ran out") as caught:
        hall.load(run, "S-1")

    assert caught.value.code == "window"
    assert hall.run(run).load == {}


def test_a_load_whose_window_runs_out_in_the_furnace_does_not_start(hall: Hall) -> None:
    hall.waiting("S-1")
    hall.floor.clock.at_us += 2 * HOUR_US
    hall.waiting("S-2")
    run = hall.open()
    hall.load(run, "S-1")
    hall.load(run, "S-2")
    hall.floor.clock.at_us += 2 * HOUR_US

    with pytest.raises(Refused, match=r"window of S-1 ran out.*Take it out of the load"):
        hall.start(run)

    assert hall.floor.part("S-2").place == "waiting"


def test_a_blade_that_was_let_on_is_laid_in(hall: Hall) -> None:
    hall.waiting("S-1")
    hall.floor.clock.at_us += WINDOW_US
    stopped = hall.floor.do(Stop(serial="S-1", key="k-stop", defect=RAN_OUT), MAKER)
    act = Sentence(
        serial="S-1", key="k-let", nonconformity=stopped["event"]["site_seq"],
        decision="concession", document="C-7", scope="one blade", quantity=1,
    )  # fmt: skip
    hall.floor.do(act, signed(DELEGATE, "qe-1", "quality-engineer"))
    run = hall.open()

    hall.load(run, "S-1")

    assert hall.start(run)["state"] == "running"


def test_a_held_blade_is_none_to_load_though_its_window_is_nearly_over(hall: Hall) -> None:
    hall.waiting("S-1")
    hall.waiting("S-2")
    hall.floor.book("hold", "S-1", SUPERVISOR, reason="drawing question")
    hall.floor.clock.at_us += WINDOW_US - HOUR_US
    with hall.floor.ledger.read(CODE) as read:
        board = read_board(read)

    assert [one.serial for one in board.soon] == ["S-2"]
    assert [one.serial for one in board.soon_held] == ["S-1"]
    said = FurnaceWords(words_of("en"), Figures("en")).answer(board, "Europe/Oslo")
    assert [text.partition(" ")[2][:4] for text, needs in said if needs][:2] == ["blad", "held"]
