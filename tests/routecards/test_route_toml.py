"""Route cards from TOML: what is read, and what is refused with which words."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.errors import Refused
from ringwright.routecards.card import (
    DECISIONS,
    FAMILIES,
    ROLES_OF_CHARACTERISTIC,
    STEP_KINDS,
    Characteristic,
    ReworkCard,
    RouteCard,
    Step,
    Window,
)
from ringwright.routecards.toml import parse_route, route_from_data, route_to_data

BLADE = """
[product]
code = "HF22-BLADE"
name = "Fan blade"
revision = "B"
effective_from = 2026-01-05
family = "fan-blade"
set_size = 22
target_per_week = 66

[[step]]
number = 10
name = "Bond"
kind = "joining"
station_group = "press"
planned_hours = 6
queue_hours = 1.5

[[step]]
number = 20
name = "Inflate"
kind = "heat-cycle"
window = { after = 10, max_hours = 2.0 }
authorisation = "furnace"
max_visits = 3

[[step]]
number = 30
name = "Weigh"
kind = "inspection"

[[step.characteristic]]
code = "moment"
nominal = 1_630_000
lower = 1_620_000.0
upper = 1_640_000.0
unit = "g_mm"
decimals = 1
role = "moment"
gauge_kind = "moment-scale"
decision = "guarded"

[[step.characteristic]]
code = "twist"
unit = "deg"

[[rework_card]]
code = "RW-WEIGH"
name = "Inflate again"
raised_at = 30
repeat = [20, 30]
"""


def refusal_of(text: str) -> str:
    """The line with which the file is refused."""
    with pytest.raises(Refused) as refusal:
        parse_route(text, "blade.toml")
    assert "\n" not in refusal.value.message
    return refusal.value.message


def edited(old: str, new: str) -> str:
    """The blade's file with its first `old` replaced; the old text must be there."""
    assert old in BLADE
    return BLADE.replace(old, new, 1)


def test_every_field_of_the_file_reaches_the_card() -> None:
    assert parse_route(BLADE, "blade.toml") == RouteCard(
        product="HF22-BLADE",
        name="Fan blade",
        revision="B",
        effective_from="2026-01-05",
        family="fan-blade",
        set_size=22,
        target_per_week=66.0,
        steps=(
            Step(
                number=10,
                name="Bond",
                kind="joining",
                station_group="press",
                planned_hours=6.0,
                queue_hours=1.5,
            ),
            Step(
                number=20,
                name="Inflate",
                kind="heat-cycle",
                window=Window(after=10, max_hours=2.0),
                authorisation="furnace",
                max_visits=3,
            ),
            Step(
                number=30,
                name="Weigh",
                kind="inspection",
                characteristics=(
                    Characteristic(
                        code="moment",
                        unit="g_mm",
                        nominal=1_630_000.0,
                        lower=1_620_000.0,
                        upper=1_640_000.0,
                        decimals=1,
                        role="moment",
                        gauge_kind="moment-scale",
                        decision="guarded",
                    ),
                    Characteristic(code="twist", unit="deg"),
                ),
            ),
        ),
        rework_cards=(
            ReworkCard(code="RW-WEIGH", name="Inflate again", raised_at=30, repeat=(20, 30)),
        ),
    )


def test_the_smallest_card_has_a_product_and_a_step() -> None:
    card = parse_route(
        '[product]\ncode="C"\nname="Case"\n[[step]]\nnumber=1\nname="Turn"\nkind="machining"'
    )

    assert (card.revision, card.family, card.effective_from) == ("1", "other", None)
    assert (card.set_size, card.target_per_week, card.rework_cards) == (None, None, ())
    assert card.steps == (Step(number=1, name="Turn", kind="machining"),)


@pytest.mark.parametrize(
    ("written", "revision"), [("2", "2"), ("0", "0"), ('"1.10"', "1.10"), ('"B"', "B")]
)
def test_a_revision_is_text_or_a_whole_number(written: str, revision: str) -> None:
    assert parse_route(edited('"B"', written)).revision == revision


def test_a_date_may_stand_in_quotes() -> None:
    assert parse_route(edited("2026-01-05", '"2026-01-05"')) == parse_route(BLADE)


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("[product]", "[produce]", "unknown key 'produce'"),
        ("set_size", "sett_size", "[product]: unknown key 'sett_size'"),
        ("queue_hours", "wait_hours", "step 10: unknown key 'wait_hours'"),
        ("decimals", "places", "step 30: characteristic moment: unknown key 'places'"),
        ("max_hours", "hours", "step 20: window: unknown key 'hours'"),
        ("raised_at", "found_at", "rework card RW-WEIGH: unknown key 'found_at'"),
        ('"fan-blade"', '"fan"', "[product]: unknown family 'fan'"),
        ('"joining"', '"gluing"', "step 10: unknown kind 'gluing'"),
        ('role = "moment"', 'role = "weight"', "characteristic moment: unknown role 'weight'"),
        ('"guarded"', '"kind"', "characteristic moment: unknown decision 'kind'"),
        ("number = 20", "number = 10", "step 10: that number stands twice"),
        ("number = 20", "number = 5", "step 5: stands after step 10"),
        ("number = 20", "number = 20.0", "number must be a whole number, not 20.0"),
        ("number = 20", 'number = "20"', "step 20: number must be a whole number, not '20'"),
        ("number = 20", "number = true", "number must be a whole number, not True"),
        ("number = 20", "number = 0", "step 0: number must be from 1"),
        ("number = 20\n", "", "step no. 2: number is missing"),
        ('name = "Bond"\n', "", "step 10: name is missing"),
        ('name = "Bond"', 'name = " "', "step 10: name must not be empty"),
        ("planned_hours = 6", "planned_hours = -6", "step 10: planned_hours must not be neg"),
        ("queue_hours = 1.5", "queue_hours = -0.1", "step 10: queue_hours must not be neg"),
        ("queue_hours = 1.5", "queue_hours = inf", "step 10: queue_hours must be a finite"),
        ("queue_hours = 1.5", "queue_hours = nan", "step 10: queue_hours must be a finite"),
        ("queue_hours = 1.5", 'queue_hours = "1"', "step 10: queue_hours must be a number"),
        ("lower = 1_620_000.0", "lower = 1_650_000", "lower limit 1650000.0 is above upper"),
        ("nominal = 1_630_000", "nominal = 1_619_999", "nominal 1619999.0 is outside its"),
        ("nominal = 1_630_000", "nominal = 1_640_001", "nominal 1640001.0 is outside its"),
        ("decimals = 1", "decimals = 13", "decimals must be at most 12"),
        ("decimals = 1", "decimals = -1", "decimals must be from 0"),
        ('unit = "g_mm"\n', "", "characteristic moment: unit is missing"),
        ('unit = "g_mm"', 'unit = "g mm"', "unit 'g mm' must be one word"),
        ('code = "twist"', 'code = "moment"', "step 30: characteristic moment stands twice"),
        ('code = "twist"', 'code = "=twist"', "must not begin with = + - @ or a tab"),
        ("after = 10", "after = 20", "step 20: window after 20: that is no earlier step"),
        ("after = 10", "after = 30", "step 20: window after 30: that is no earlier step"),
        ("after = 10", "after = 15", "step 20: window after 15: that is no earlier step"),
        ("max_hours = 2.0", "max_hours = 0", "step 20: window max_hours must be above zero"),
        ("{ after = 10, max_hours = 2.0 }", "2", "step 20: window: 2 is not a table"),
        ("max_visits = 3", "max_visits = 0", "step 20: max_visits must be from 1"),
        ("set_size = 22", "set_size = 0", "[product]: set_size must be from 1"),
        ("set_size = 22", "set_size = 2.5", "[product]: set_size must be a whole number"),
        ("target_per_week = 66", "target_per_week = 0", "target_per_week must be above zero"),
        ("target_per_week = 66", "target_per_week = -1", "target_per_week must be above zero"),
        ("raised_at = 30", "raised_at = 40", "raised_at 40 is no step of the route"),
        ("[20, 30]", "[]", "rework card RW-WEIGH: repeat names no step"),
        ("[20, 30]", "[25, 30]", "rework card RW-WEIGH: repeat 25 is no step of the route"),
        ("[20, 30]", "[20.0]", "rework card RW-WEIGH: repeat must be a whole number"),
        ("[20, 30]", "20", "rework card RW-WEIGH: repeat must be a list"),
        ("raised_at = 30", "raised_at = 20", "repeat 30 comes after step 20"),
        ("HF22-BLADE", "@HF22", "[product]: code '@HF22' must not begin with"),
        ("HF22-BLADE", "a\\u0007b", "[product]: code 'a\\x07b' must not hold control"),
        ("HF22-BLADE", "x" * 201, "is longer than 200 characters"),
        ('"Fan blade"', '"a\\nb"', "[product]: name 'a\\nb' must not hold control"),
        ('"Fan blade"', "7", "[product]: name must be text in quotes, not 7"),
        ('"B"', "1.5", "[product]: revision must be text in quotes, not 1.5"),
        ('"B"', "true", "[product]: revision must be text in quotes, not True"),
        ('"B"', "-1", "[product]: revision must be from 0"),
        ("2026-01-05", '"soon"', "[product]: effective_from must be a date such as"),
        ("2026-01-05", "2026-01-05T00:00:00", "effective_from must be a date such as"),
        ('code = "HF22-BLADE"', 'code = "HF22', "not valid TOML"),
        ("[[step]]", "[step]", "not valid TOML"),
    ],
)
def test_what_is_unsound_is_refused_in_one_line_that_names_it(
    old: str, new: str, line: str
) -> None:
    refused = refusal_of(edited(old, new))

    assert refused.startswith("blade.toml: ")
    assert line in refused


def test_a_route_without_product_or_step_is_refused() -> None:
    assert refusal_of("") == "blade.toml: product is missing"
    assert "no [[step]]" in refusal_of('[product]\ncode = "C"\nname = "Case"')
    assert "[[step]]" in refusal_of('step = 5\n[product]\ncode = "C"\nname = "Case"')
    assert "is not a table" in refusal_of('step = [5]\n[product]\ncode = "C"\nname = "Case"')


def test_two_rework_cards_of_one_code_are_refused() -> None:
    again = BLADE[BLADE.index("[[rework_card]]") :]

    assert "rework card RW-WEIGH: that code stands twice" in refusal_of(BLADE + again)


def test_a_nominal_on_its_limit_is_inside() -> None:
    card = parse_route(edited("nominal = 1_630_000", "nominal = 1_640_000"))

    assert card.steps[2].characteristics[0].nominal == 1_640_000


WORDS = st.text("ABCdef012", min_size=1, max_size=8)
HOURS = st.floats(0, 1e6) | st.integers(0, 10**6).map(float)
MAYBE_NUMBER = st.none() | st.floats(allow_nan=False, allow_infinity=False)
CHARACTERISTICS = st.builds(
    Characteristic,
    code=WORDS,
    unit=WORDS,
    nominal=MAYBE_NUMBER,
    lower=MAYBE_NUMBER,
    upper=MAYBE_NUMBER,
    decimals=st.integers(0, 12),
    role=st.none() | st.sampled_from(ROLES_OF_CHARACTERISTIC),
    gauge_kind=st.none() | WORDS,
    decision=st.sampled_from(DECISIONS),
)
STEPS = st.builds(
    Step,
    number=st.integers(1, 10**6),
    name=WORDS,
    kind=st.sampled_from(STEP_KINDS),
    station_group=st.just("") | WORDS,
    planned_hours=HOURS,
    queue_hours=HOURS,
    characteristics=st.lists(CHARACTERISTICS, max_size=3).map(tuple),
    window=st.none() | st.builds(Window, after=st.integers(1, 99), max_hours=HOURS),
    authorisation=st.none() | WORDS,
    max_visits=st.none() | st.integers(1, 9),
)
CARDS = st.builds(
    RouteCard,
    product=WORDS,
    name=WORDS,
    revision=WORDS,
    effective_from=st.none() | st.dates().map(str),
    family=st.sampled_from(FAMILIES),
    set_size=st.none() | st.integers(1, 99),
    target_per_week=st.none() | HOURS,
    steps=st.lists(STEPS, max_size=3).map(tuple),
    rework_cards=st.lists(
        st.builds(
            ReworkCard,
            code=WORDS,
            name=WORDS,
            raised_at=st.integers(1, 99),
            repeat=st.lists(st.integers(1, 99), min_size=1, max_size=4).map(tuple),
        ),
        max_size=2,
    ).map(tuple),
)


@given(CARDS)
def test_a_card_comes_back_from_the_ledger_as_it_went_in(card: RouteCard) -> None:
    data = route_to_data(card)

    stored = json.loads(json.dumps(data))

    assert stored == data
    assert route_from_data(stored) == card


def test_a_number_that_canonical_json_wrote_as_whole_is_a_float_again() -> None:
    stored = json.loads(json.dumps(route_to_data(parse_route(BLADE))).replace(".0", ""))

    card = route_from_data(stored)

    assert card == parse_route(BLADE)
    assert isinstance(card.steps[0].planned_hours, float)
    assert isinstance(card.steps[2].characteristics[0].upper, float)


def ringing(*characteristics: str) -> str:
    """A card with one step that reads frequencies."""
    head = '[product]\ncode = "P"\nname = "P"\n[[step]]\nnumber = 10\nname = "Ring"\n'
    read = "".join(f"[[step.characteristic]]\n{one}\n" for one in characteristics)
    return f'{head}kind = "inspection"\n{read}'


FLAP = """code = "flap"
unit = "Hz"
lower = 136
upper = 148
mode = "first flap"
search = [115, 175]"""


def test_a_mode_is_kept_with_its_window() -> None:
    card = parse_route(ringing(FLAP))
    (one,) = card.steps[0].characteristics

    assert (one.mode, one.search) == ("first flap", (115.0, 175.0))
    assert route_from_data(json.loads(json.dumps(route_to_data(card)))) == card


def test_a_card_without_modes_says_nothing_of_them() -> None:
    """So that a card loaded before there were modes is still the same content."""
    (step,) = route_to_data(parse_route(ringing('code = "flap"\nunit = "Hz"')))["steps"]

    assert not {"mode", "search"} & set(step["characteristics"][0])


@pytest.mark.parametrize(
    ("was", "now", "why"),
    [
        ('unit = "Hz"', 'unit = "mm"', "the unit must be Hz"),
        ('mode = "first flap"', "", "stand together"),
        ("search = [115, 175]", "", "stand together"),
        ("[115, 175]", "[175, 115]", "rise from above zero"),
        ("[115, 175]", "[0, 175]", "rise from above zero"),
        ("[115, 175]", "[115]", "two frequencies"),
        ("[115, 175]", '["a", "b"]', "two frequencies"),
        ("[115, 175]", "[140, 175]", "must hold the limits"),
    ],
)
def test_a_mode_that_cannot_be_looked_for_is_refused(was: str, now: str, why: str) -> None:
    assert was in FLAP

    with pytest.raises(Refused, match=why):
        parse_route(ringing(FLAP.replace(was, now)))


def test_windows_of_one_step_that_overlap_are_refused() -> None:
    other = 'code = "edge"\nunit = "Hz"\nmode = "first edgewise"\nsearch = [170, 400]'

    with pytest.raises(Refused, match="search of flap and of edge overlap"):
        parse_route(ringing(FLAP, other))
