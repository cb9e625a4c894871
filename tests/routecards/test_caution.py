"""Steps that can hurt people carry a caution that defers to codes and licensed practice."""

from __future__ import annotations

import pytest

from ringwright.routecards.card import STEP_KINDS, Step
from ringwright.routecards.caution import caution_for, step_caution


@pytest.mark.parametrize("kind", ["heat-cycle", "casting", "joining"])
def test_hot_and_welding_work_is_cautioned(kind: str) -> None:
    told = caution_for(kind)

    assert told is not None
    assert "local codes" in told
    assert "licensed practice" in told


@pytest.mark.parametrize(
    "word", ["X-ray of the core", "xray", "radiography", "Radiograph weld"]
)
def test_an_inspection_by_radiation_is_cautioned(word: str) -> None:
    told = caution_for("inspection", word)

    assert told is not None
    assert "radiation safety officer" in told


def test_other_kinds_carry_none() -> None:
    quiet = set(STEP_KINDS) - {"heat-cycle", "casting", "joining"}

    assert {kind: caution_for(kind, "Measure") for kind in quiet} == dict.fromkeys(quiet)


@pytest.mark.parametrize(
    ("kind", "name", "word"),
    [
        ("cleaning", "Etch", "fume"),
        ("cleaning", "Knock out and leach the core", "Acids"),
        ("inspection", "Etch and look at the grain", "Acids"),
        ("inspection", "Penetrant inspection", "ultraviolet"),
        ("inspection", "Proof the root", "break"),
        ("machining", "Rough turn", "swarf"),
        ("forming", "Inject the wax", "Hot wax"),
    ],
)
def test_words_in_the_name_tell_of_other_harm(kind: str, name: str, word: str) -> None:
    told = caution_for(kind, name)

    assert told is not None
    assert word in told
    assert "local codes and licensed practice" in told


def test_the_authorisation_of_a_step_tells_of_radiation() -> None:
    step = Step(number=90, name="Look inside", kind="inspection", authorisation="radiography")

    assert step_caution(step) is not None


def test_a_testing_method_tells_by_its_abbreviation() -> None:
    step = Step(number=90, name="Look inside", kind="inspection", authorisation="RT-2")
    other = Step(number=90, name="Look inside", kind="inspection", authorisation="VT-2")

    assert "radiation" in str(step_caution(step))
    assert step_caution(other) is None
