"""A weld plan from its file: what is sound, what is refused, where its welds lie."""

from __future__ import annotations

import pytest

from ringwright.core.errors import Refused
from ringwright.welds.card import wire_mm
from ringwright.welds.defects import DEFECTS
from ringwright.welds.toml import parse_plan, plan_data, plan_from
from ringwright.welds.toml import plan_text as plan_as_text
from tests.make.welds import plan, plan_text

# ISO 19232-1, diameters of the wires, from memory.
WIRES_MM = {1: 3.2, 6: 1.0, 10: 0.4, 13: 0.2, 16: 0.1, 19: 0.05}
# ISO 6520-1, numbers and terms, from memory.
TERMS = {
    "100": "crack",
    "2011": "gas pore",
    "2012": "uniformly distributed porosity",
    "304": "metallic inclusion",
    "3041": "tungsten inclusion",
    "401": "lack of fusion",
    "402": "incomplete penetration",
    "5011": "undercut",
}


@pytest.mark.parametrize(("number", "diameter_mm"), WIRES_MM.items())
def test_wires_have_the_diameters_of_the_standard(number: int, diameter_mm: float) -> None:
    assert wire_mm(number) == pytest.approx(diameter_mm, rel=0.02)  # it gives rounded ones


def test_ten_wires_on_a_wire_is_a_tenth_as_thick() -> None:
    for number in range(1, 10):
        assert wire_mm(number + 10) == pytest.approx(wire_mm(number) / 10)


@pytest.mark.parametrize(("number", "term"), TERMS.items())
def test_defects_bear_the_terms_of_the_standard(number: str, term: str) -> None:
    assert DEFECTS[number] == term


def test_a_plan_reads_back_as_it_was_kept() -> None:
    assert plan_from(plan_data(plan())) == plan()
    assert parse_plan(plan_as_text(plan())) == plan()


def test_every_vane_has_every_weld() -> None:
    assert plan().welds == (
        "1-OUT", "1-IN", "2-OUT", "2-IN", "3-OUT", "3-IN", "4-OUT", "4-IN",
    )  # fmt: skip


def test_vanes_are_numbered_the_way_the_plan_says() -> None:
    assert [plan().angle_of(vane) for vane in (1, 2, 3, 4)] == [0, 90, 180, 270]
    other = plan(direction='"counterclockwise"', first_angle_deg="10")
    assert [other.angle_of(vane) for vane in (1, 2, 3, 4)] == [10, 280, 190, 100]


def test_the_ring_closes_for_adjoining_welds() -> None:
    ruled = plan(adjoining_vanes="1")

    assert set(ruled.adjoining("1-OUT")) == {"1-IN", "4-OUT", "2-OUT"}
    assert set(plan().adjoining("1-OUT")) == {"1-IN"}


@pytest.mark.parametrize("process", ["51", "52"])
def test_a_beam_weld_is_not_accepted_by_iso_5817(process: str) -> None:
    # The title of ISO 5817 ends: beam welding excluded.
    with pytest.raises(Refused, match=r"leaves out electron and laser beam.*ISO 13919-1"):
        plan(process=f'"{process}"')
    assert plan(process=f'"{process}"', standard='"ISO 13919-1"').process == process


def test_the_limit_of_repairs_must_be_said() -> None:
    with pytest.raises(Refused, match=r"\[repair\]: limit is missing"):
        parse_plan(plan_text().replace("limit = 2\n", ""))


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"wire": "20"}, "wire must be from 1 to 19"),
        ({"vanes": "0"}, "vanes must be from 1"),
        ({"colours": "[]"}, "at least one colour"),
        ({"level": '"E"'}, "unknown level 'E'"),
        ({"accepted_after": "25"}, "must follow one another"),
        ({"penetrant": '"yes"'}, "penetrant must be true or false"),
        ({"adjoins": '["OUT"]'}, "OUT is no other joint"),
        ({"code": '"out"'}, "one to four capitals"),
        ({"code": '"IN"', "adjoins": "[]"}, "joint IN stands twice"),
        ({"radial_mm": "-1"}, "radial_mm must be above 0"),
        ({"effective_from": '"soon"'}, "must be a date"),
    ],
)
def test_an_unsound_plan_is_refused_in_one_line(changed: dict[str, str], told: str) -> None:
    text = plan_text(**changed)

    with pytest.raises(Refused) as refused:
        parse_plan(text, "plan.toml")

    assert told in refused.value.message
    assert refused.value.message.startswith("plan.toml")
    assert "\n" not in refused.value.message
