"""A correction may say only what a booking could have said, by whoever may book it."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.bench.correcting import Correct
from ringwright.core.errors import Forbidden, Refused
from tests.make.floor import QUALITY, SUPERVISOR, Floor
from tests.make.second import signed


def ended(floor: Floor) -> int:
    """The entry number of a visit ended with a pass."""
    floor.book("create", "C-1", product="OAR")
    floor.book("begin", "C-1", step=10)
    answer = floor.book("end", "C-1", step=10, outcome="pass")
    return int(answer["event"]["site_seq"])


def correct(entry: int, **changes: Any) -> Correct:
    return Correct(serial="C-1", key=None, entry=entry, reason="misread", changes=changes)


@pytest.mark.parametrize(
    "changes",
    [
        {"outcome": "fine"},
        {"value": float("nan")},
        {"value": "12"},
        {"at_us": True},
        {"at_us": 2**60},
        {"step": "10"},
        {"station": "=1+1"},
        {"product": "X"},
        {},
    ],
)
def test_a_correction_no_booking_could_say_is_refused(
    sqlite_floor: Floor, changes: dict[str, Any]
) -> None:
    entry = ended(sqlite_floor)

    with pytest.raises(Refused):
        sqlite_floor.do(correct(entry, **changes), SUPERVISOR)


def test_nobody_corrects_into_an_outcome_they_may_not_book(sqlite_floor: Floor) -> None:
    entry = ended(sqlite_floor)

    with pytest.raises(Forbidden):
        sqlite_floor.do(correct(entry, outcome="concession"), SUPERVISOR)
    with pytest.raises(Forbidden):
        sqlite_floor.do(correct(entry, outcome="scrap"), SUPERVISOR)
    both = signed(QUALITY, "sup-1", "supervisor")
    answer = sqlite_floor.do(correct(entry, outcome="scrap"), both)

    assert answer["part"]["place"] == "scrapped"
