"""The demo's route cards: the steps of the trade, largest counts, cautions where work hurts."""

from __future__ import annotations

from datetime import date
from importlib.resources import files

import pytest

from ringwright.core.authorisation import asked_of
from ringwright.routecards.caution import step_caution
from ringwright.routecards.checks import check_route
from ringwright.sites.papers import checked_paper
from ringwright.sites.rules import Grant, When, holders, lapses
from seed_demo.papers import demo_papers
from seed_demo.plant import PRODUCTS, demo_routes, demo_site
from tests.demo.story import CARDS

STEPS = {
    "HF22-BLADE": (
        "release material", "clean", "bond", "bond ultrasound", "twist hot", "clean", "inflate",
        "etch", "machine", "penetrant", "measure", "weigh", "ring", "release",
    ),
    "HF22-CASE": (
        "forging", "rough turn", "stress", "bore", "mill", "fit weld vanes", "radiograph",
        "finish turn", "wall", "release",
    ),
    "PT68-BLADE": (
        "core wax", "radiograph", "mould", "cast", "knock out", "etch grain", "heat treat",
        "penetrant", "radiograph", "grind root", "proof", "measure", "weigh", "release",
    ),
}  # fmt: skip
"""The words that stand in each step's name, in the order of the trade's route."""


def text_of(product: str) -> str:
    return files("seed_demo").joinpath("cards", f"{product}.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("product", PRODUCTS)
def test_the_route_goes_through_the_steps_of_the_trade(product: str) -> None:
    steps = CARDS[product].steps

    assert len(steps) == len(STEPS[product])
    for step, words in zip(steps, STEPS[product], strict=True):
        for word in words.split():
            assert word in step.name.lower(), step.name


def test_the_cards_are_sound_and_their_stations_exist() -> None:
    groups = {station.group for station in demo_site().stations}

    for card in demo_routes():
        check_route(card, card.product)
        assert {step.station_group for step in card.steps} <= groups


@pytest.mark.parametrize("product", PRODUCTS)
def test_heat_cleaning_and_welding_have_a_largest_count(product: str) -> None:
    for step in CARDS[product].steps:
        if step.kind in ("heat-cycle", "cleaning", "joining"):
            assert step.max_visits is not None, step.name
    for rework in CARDS[product].rework_cards:
        # What a card repeats can be done at least twice, or the card could never be followed.
        for number in rework.repeat:
            most = CARDS[product].by_number[number].max_visits
            assert most is None or most >= 2, rework.code


HARMLESS = {
    "HF22-BLADE": (10, 40, 110, 120, 130, 140),
    "HF22-CASE": (10, 90, 100),
    "PT68-BLADE": (120, 130, 140),
}
"""Papers, scales, gauges and desks; everything else can hurt."""


@pytest.mark.parametrize("product", PRODUCTS)
def test_a_caution_stands_where_work_can_hurt_and_only_there(product: str) -> None:
    cautioned = [s.number for s in CARDS[product].steps if step_caution(s) is not None]

    assert cautioned == [n for n in CARDS[product].order if n not in HARMLESS[product]]


def test_people_are_authorised_for_every_step_that_asks_for_it() -> None:
    today, people = date(2026, 10, 20), demo_site().people
    grants: dict[tuple[str, str], list[Grant]] = {}
    for paper in map(checked_paper, demo_papers(today)):
        grant = Grant(number=len(grants), paper=paper, granted_by="administrator", at_us=0)
        grants[paper.person, paper.method] = [grant]
    when = When(at_us=1, day=today.isoformat())

    asked = {step.authorisation for card in demo_routes() for step in card.steps} - {None}
    for code in asked:
        assert len(holders(asked_of(str(code)), people, grants, when)) >= 4, code

    assert {"RT-2", "UT-2", "PT-2", "welding"} <= asked
    assert [one.left_days for one in lapses(people, grants, when)] == [9, 9, 9, 24, 27, 27, 27]
