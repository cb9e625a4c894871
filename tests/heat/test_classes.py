"""Furnace classes against the figures that a trade article quotes from the standard."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from ringwright.core.errors import Refused
from ringwright.heat.classes import CLASSES, closest_class, furnace_class, meets_class

# "AMS 2750F pyrometric requirements: what changes for the equipment of heat treatment
# furnaces", a trade article that quotes table 11 of SAE AMS 2750F (2020); the standard itself
# was not seen. In degF and degC.
QUOTED = {1: (5, 3), 2: (10, 6), 3: (15, 8), 4: (20, 10), 5: (25, 14), 6: (50, 28)}


@pytest.mark.parametrize(("number", "figures"), QUOTED.items())
def test_the_classes_are_those_quoted_from_the_standard(
    number: int, figures: tuple[float, float]
) -> None:
    found = furnace_class(number)

    assert (found.uniformity_f, found.uniformity_c) == figures
    assert "quotes table 11" in found.provenance


def test_what_is_from_memory_says_so() -> None:
    assert all("from memory" in one.provenance for one in CLASSES)


def test_degf_and_degc_differ_by_no_more_than_the_rounding_of_a_table() -> None:
    """NIST SP 811: an interval of 1 degF is 5/9 degC, without any offset."""
    for one in CLASSES:
        assert one.uniformity_c == pytest.approx(one.uniformity_f * 5 / 9, abs=1.2)


def test_a_stray_of_13_degf_is_class_3() -> None:
    """Worked example of an article on surveys: 1,900 degF, work zone 1,887 to 1,913."""
    found = closest_class(1913 - 1900, "degF")

    assert found is not None
    assert found.number == 3


@pytest.mark.parametrize(
    ("deviation", "unit", "met"),
    [
        *((8.0, "degC", True), (-8.0, "degC", True), (8.01, "degC", False)),
        *((8.2, "degC", False), (14.76, "degF", True), (8.0, "K", True)),
        *((15.0, "degF", True), (15.1, "degF", False)),
    ],
)
def test_a_survey_is_judged_in_its_own_unit(deviation: float, unit: str, met: bool) -> None:
    """8.2 degC is 14.76 degF: outside in one table and inside in the other."""
    assert meets_class(3, deviation, unit) is met


def test_the_edge_is_inside_whatever_the_rounding() -> None:
    strayed = 1024.4 - 1018.4

    assert strayed > 6.0
    assert meets_class(2, strayed)


def test_each_class_meets_those_after_it() -> None:
    for before, after in pairwise(CLASSES):
        assert meets_class(after.number, before.uniformity_c)
        assert not meets_class(before.number, after.uniformity_c)


def test_beyond_class_6_there_is_none() -> None:
    assert closest_class(28.1) is None
    assert closest_class(50.1, "degF") is None


@pytest.mark.parametrize("number", [0, 7, -1])
def test_an_unknown_class_is_refused(number: int) -> None:
    with pytest.raises(Refused, match="classes are 1 to 6"):
        meets_class(number, 1.0)


@pytest.mark.parametrize("deviation", [math.nan, math.inf])
def test_a_survey_without_a_figure_is_refused(deviation: float) -> None:
    with pytest.raises(Refused, match="largest deviation"):
        closest_class(deviation)
