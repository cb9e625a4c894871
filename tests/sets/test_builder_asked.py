"""What an address of Blade sets asks: rules, locks, exchanges, filters; what it refuses."""

from __future__ import annotations

import cmath

import pytest

from ringwright.core.errors import Refused
from ringwright.sets.asked import (
    Asked,
    disc_of,
    fields_of,
    limits_of,
    locks_of,
    number_of,
    slots_of,
)
from ringwright.sets.rotor import Rotor


def asked(*pairs: tuple[str, str]) -> Asked:
    return fields_of(pairs)


def test_rules_of_the_address_become_the_limits() -> None:
    found = limits_of(
        asked(
            ("frequency_spread", "1.5"),
            ("opposite", "1,200"),
            ("alternate", "1"),
            ("lock", "4:HB:7"),
            ("lock", "2:HB-9"),
            ("exclude", "HB-1"),
        ),
        22,
        Rotor(),
    )

    assert found.frequency_spread_hz == 1.5
    assert found.opposite_g_mm == 1200
    assert found.neighbour_g_mm is None
    assert found.alternate
    assert dict(found.locks) == {4: "HB:7", 2: "HB-9"}
    assert found.excluded == {"HB-1"}


def test_the_rotors_usual_rule_holds_until_the_address_says_otherwise() -> None:
    rotor = Rotor(opposite_g_mm=2000.0, neighbour_g_mm=5000.0)

    assert limits_of(asked(), 22, rotor).opposite_g_mm == 2000
    assert limits_of(asked(("opposite", "900")), 22, rotor).opposite_g_mm == 900
    assert limits_of(asked(("opposite", "")), 22, rotor).opposite_g_mm is None
    assert limits_of(asked(("opposite", "")), 22, rotor).neighbour_g_mm == 5000


def test_an_odd_ring_drops_the_usual_opposite_rule_but_not_one_that_was_asked() -> None:
    rotor = Rotor(opposite_g_mm=2000.0)

    assert limits_of(asked(), 21, rotor).opposite_g_mm is None
    with pytest.raises(Refused, match="21 slots has no opposite"):
        limits_of(asked(("opposite", "10")), 21, rotor)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("", None),
        ("12", 12),
        ("1,234,567.5", 1234567.5),
        (".5", 0.5),
        ("1e3", 1000),
        ("-4", -4),
    ],
)
def test_numbers_are_read_as_people_write_them(text: str, value: float | None) -> None:
    assert number_of("moment", text) == value


@pytest.mark.parametrize("text", ["1,5", "12 g", "nan", "inf", "1e999", "٣", "--1", "0x1"])
def test_what_is_no_number_is_refused_by_name(text: str) -> None:
    with pytest.raises(Refused, match=r"opposite difference .* is not a number"):
        limits_of(asked(("opposite", text)), 22, Rotor())


def test_the_discs_own_unbalance_is_a_size_at_an_angle() -> None:
    found = disc_of("350@120")

    assert abs(found) == pytest.approx(350)
    assert cmath.phase(found) == pytest.approx(2.0943951)
    assert disc_of("") == 0
    with pytest.raises(Refused, match="350@120"):
        disc_of("@5")


@pytest.mark.parametrize("text", ["4", "4:", ":HB-1", "four:HB-1", "-1:HB-1"])
def test_a_lock_that_names_no_slot_or_no_blade_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="SLOT:SERIAL"):
        locks_of(asked(("lock", text)))


def test_a_slot_locked_for_two_blades_is_refused() -> None:
    with pytest.raises(Refused, match="slot 4 is locked for A and for B"):
        locks_of(asked(("lock", "4:A"), ("lock", "4:B")))


def test_the_last_of_a_field_that_stands_once_counts_and_strangers_go() -> None:
    found = asked(("seed", "1"), ("colour", "red"), ("seed", "2"), ("lock", ""))

    assert found.fields == (("seed", "2"),)


def test_effort_seed_and_sets_are_bounded() -> None:
    assert asked(("effort", "5"), ("sets", "max")).sets is None
    assert asked().sets == 1
    assert asked(("sets", "3")).sets == 3
    for pair in (("effort", "6"), ("effort", "0"), ("seed", "-1"), ("sets", "0")):
        with pytest.raises(Refused, match="whole number from"):
            _ = (asked(pair).effort, asked(pair).seed, asked(pair).sets)


def test_slots_are_the_products_unless_the_address_gives_them() -> None:
    assert slots_of(asked(), 22) == 22
    assert slots_of(asked(("slots", "9")), None) == 9
    assert slots_of(asked(), None) is None
    with pytest.raises(Refused, match="from 2 to 400"):
        slots_of(asked(("slots", "401")), None)


def test_a_field_too_long_or_unreadable_is_refused() -> None:
    for text in ("x" * 201, "a\x00b", "a\u202eb"):
        with pytest.raises(Refused):
            asked(("find", text))
