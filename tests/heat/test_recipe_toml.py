"""Recipes from files: what is read, what is filled in, and what is refused by name."""

from __future__ import annotations

import contextlib
import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.errors import Refused
from ringwright.heat.recipe import Recipe, Use
from ringwright.heat.toml import OF_RECIPE, OF_SEGMENT, parse_recipe, recipe_data, recipe_from

WHOLE = """
code = "FORM-A"
name = "Form and hold"
revision = 3
planned_minutes = 240
furnace_class = 2
ceiling_c = 945
max_dip_minutes = 3
min_channels = 3

[[segment]]
name = "heat up"
kind = "ramp"
target_c = 920
max_rate_c_per_min = 10.0

[[segment]]
name = "form"
kind = "soak"
target_c = 920
tolerance_c = 8
min_minutes = 60
max_minutes = 90.5
pressure_kpa = 350
pressure_tolerance_kpa = 10
max_pressure_rate_kpa_per_min = 25
max_dip_minutes = 2

[[segment]]
name = "cool"
kind = "ramp"
target_c = 300
tolerance_c = 20
pressure_kpa = 0

[[use]]
product = "HF22-BLADE"
step = 50
"""
SHORT = '[[segment]]\nname = "hold"\nkind = "soak"\ntarget_c = 500\ntolerance_c = 5\n'


def refused(text: str) -> str:
    with pytest.raises(Refused) as trouble:
        parse_recipe(text)
    assert "\n" not in trouble.value.message
    return trouble.value.message


def test_every_key_is_read() -> None:
    recipe = parse_recipe(WHOLE)

    heat, form, cool = recipe.segments
    assert (recipe.code, recipe.revision, recipe.furnace_class) == ("FORM-A", "3", 2)
    assert (recipe.ceiling_c, recipe.max_dip_minutes, recipe.min_channels) == (945.0, 3.0, 3)
    assert recipe.uses == (Use(product="HF22-BLADE", step=50),)
    assert (heat.max_rate_c_per_min, heat.pressure_kpa) == (10.0, None)
    assert (form.min_minutes, form.max_minutes, form.max_dip_minutes) == (60.0, 90.5, 2.0)
    assert form.max_pressure_rate_kpa_per_min == 25.0
    assert (cool.tolerance_c, cool.pressure_kpa) == (20.0, 0.0)


def test_a_ramp_without_tolerance_takes_that_of_the_soak_it_leads_to() -> None:
    heat, _, cool = parse_recipe(WHOLE).segments

    assert heat.tolerance_c == 8.0
    assert cool.pressure_tolerance_kpa == 10.0, "none follows, so the last before"


def test_what_is_left_out_is_as_the_contract_says() -> None:
    recipe = parse_recipe(SHORT)

    assert (recipe.max_dip_minutes, recipe.min_channels, recipe.ceiling_c) == (5.0, 2, None)


def test_what_concerns_the_whole_may_stand_in_a_table_of_its_own() -> None:
    top, segments = WHOLE.split("[[segment]]", 1)
    inner = f"[recipe]\n{top}[[segment]]{segments}".replace("[[use]]", "[[recipe.use]]")

    assert parse_recipe(inner) == parse_recipe(WHOLE)


def test_a_recipe_comes_back_from_the_record_as_it_was() -> None:
    recipe = parse_recipe(WHOLE)

    kept = json.loads(json.dumps(recipe_data(recipe)))

    assert recipe_from(kept) == recipe
    assert "max_minutes" not in kept["segment"][0]


def test_the_record_s_recipe_is_checked_as_a_file_is() -> None:
    kept = recipe_data(parse_recipe(SHORT))
    kept["segment"][0]["tolerance_c"] = -1.0

    with pytest.raises(Refused, match="'hold': tolerance_c must not be below 0"):
        recipe_from(kept)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("tolerance_c = 8", "tolerence_c = 8"), "segment 'form': unknown key 'tolerence_c'"),
        (("tolerance_c = 8\n", ""), "segment 'form': tolerance_c is missing"),
        (("target_c = 920", "target_c = nan"), "segment 'heat up': target_c must be a finite"),
        (("target_c = 920", "target_c = inf"), "segment 'heat up': target_c must be a finite"),
        (("target_c = 920", "target_c = -300"), "absolute zero"),
        (("target_c = 920", "target_c = true"), "target_c must be a number"),
        (("target_c = 920", "target_c = 1e7"), "no figure of a furnace"),
        (("tolerance_c = 8", "tolerance_c = -8"), "segment 'form': tolerance_c must not be"),
        (("min_minutes = 60", "min_minutes = 91"), "min_minutes 91 is over max_minutes 90.5"),
        (("min_minutes = 60", "min_minutes = -1"), "min_minutes must not be below 0"),
        (("per_min = 10.0", "per_min = 0"), "max_rate_c_per_min must be above 0"),
        (("= 25\n", "= -25\n"), "max_pressure_rate_kpa_per_min must be above 0"),
        (("pressure_tolerance_kpa = 10\n", ""), "'form': pressure_tolerance_kpa is missing"),
        (("pressure_kpa = 350\n", ""), "pressure_tolerance_kpa stands without pressure_kpa"),
        (('"soak"', '"dwell"'), "segment 'form': unknown kind 'dwell'"),
        (('name = "form"\n', ""), "segment no. 2: name is missing"),
        (("ceiling_c = 945", "ceiling_c = 900"), "ceiling_c 900 lies below target_c of heat"),
        (("min_channels = 3", "min_channels = 0"), "min_channels"),
        (("max_dip_minutes = 3", "max_dip_minutes = -3"), "max_dip_minutes"),
        (("furnace_class = 2", "furnace_class = 7"), "furnace_class must be from 1 to 6"),
        (("ceiling_c", "cieling_c"), "unknown key 'cieling_c'"),
        (("[[use]]", "ceiling_c = 950\n[[use]]"), "segment 'cool': unknown key 'ceiling_c'"),
        (("step = 50", 'step = 50\n[[use]]\nproduct = "HF22-BLADE"\nstep = 50'), "twice"),
        (("step = 50", "steps = 50"), "unknown key 'steps'"),
        (("[[use]]", "[recipe]\nceiling_c = 945\n[[use]]"), "say it once"),
    ],
)
def test_a_mistake_is_named_by_segment_and_field(change: tuple[str, str], why: str) -> None:
    changed = WHOLE.replace(*change, 1)
    assert changed != WHOLE
    assert why in refused(changed)


@pytest.mark.parametrize(
    "text", ["", 'code = "X"', "segment = 5", "[segment]\nname = 'a'", "=="]
)
def test_a_recipe_without_segments_is_refused(text: str) -> None:
    assert refused(text)


@given(st.text(max_size=60))
def test_no_text_makes_it_fall(text: str) -> None:
    for tried in (text, SHORT + text):
        with contextlib.suppress(Refused):
            assert isinstance(parse_recipe(tried), Recipe)


def test_the_guide_tells_every_key_and_its_recipe_is_one() -> None:
    guide = (Path(__file__).parents[2] / "docs" / "guide.md").read_text(encoding="utf-8")
    (example,) = [
        text for text in re.findall(r"```toml\n(.*?)```", guide, re.S) if "_c =" in text
    ]

    assert [one.name for one in parse_recipe(example).segments][:2] == ["heat up", "settle"]
    told = guide.replace("[[use]]", "use")
    assert [key for key in (*OF_RECIPE, *OF_SEGMENT) if f"`{key}`" not in told] == []


def test_the_plan_of_a_cycle_is_what_the_recipe_says() -> None:
    recipe = parse_recipe(WHOLE)

    assert recipe.planned_min == 240.0
    assert recipe_from(recipe_data(recipe)).planned_min == 240.0


def test_without_one_it_is_the_least_that_the_segments_allow() -> None:
    """40 to soak; 400 kPa at 10 a minute: 40; 60 to hold; from 900 to 300 degC at 8 a minute:
    75. Where the first segment starts is not known, so it counts nothing by its rate.
    """
    text = """
    segment = [
      { name = "heat", kind = "ramp", target_c = 900, tolerance_c = 9, max_rate_c_per_min = 5 },
      { name = "even out", kind = "soak", target_c = 900, tolerance_c = 9, min_minutes = 40,
        pressure_kpa = 20, pressure_tolerance_kpa = 9 },
      { name = "press", kind = "ramp", target_c = 900, tolerance_c = 9, pressure_kpa = 420,
        pressure_tolerance_kpa = 9, max_pressure_rate_kpa_per_min = 10, min_minutes = 15 },
      { name = "form", kind = "soak", target_c = 900, tolerance_c = 9, min_minutes = 60 },
      { name = "cool", kind = "ramp", target_c = 300, tolerance_c = 9, max_rate_c_per_min = 8 },
    ]
    """.replace(",\n        ", ", ")

    assert parse_recipe(text).planned_min == 40 + 40 + 60 + 75
    assert parse_recipe(SHORT).planned_min is None


def test_a_plan_that_the_segments_do_not_allow_is_refused() -> None:
    said = refused(WHOLE.replace("planned_minutes = 240", "planned_minutes = 59"))

    assert "planned_minutes 59 is under the 60 that the segments ask at least" in said
    assert "planned_minutes must be above 0" in refused("planned_minutes = 0\n" + SHORT)
