"""A practice site has the real one's furnaces, as they were proved last, and its recipes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from ringwright.furnaces.queries import read_furnaces, read_recipes
from ringwright.furnaces.rules import FurnacePast
from ringwright.furnaces.service import Prove, ReviseRecipe, SetFurnace
from ringwright.heat.recipe import Recipe
from ringwright.heatruns.running import OpenRun
from ringwright.ledger.service import Ledger
from tests.make import furnaces, shop
from tests.make.floor import MAKER, QUALITY
from tests.make.practice import CODE, REAL, practise

DAY = "2026-10-01"


@pytest.fixture
def hot(sqlite_url: str) -> Iterator[Ledger]:
    """The real shop with a furnace whose survey failed and was passed on the same day."""
    ledger = shop.open_shop(sqlite_url, "")
    for command, who in furnaces.commands():
        ledger.execute(REAL, command, who)
    for number, value in enumerate((99.0, 1.0)):
        prove = Prove(
            furnace=furnaces.FURNACE, what="survey", on=DAY, value=value, note="by hand",
            key=f"survey-{number}",
        )  # fmt: skip
        ledger.execute(REAL, prove, QUALITY)
    yield ledger
    ledger.store.close()


def furnace_in(ledger: Ledger, site: str) -> FurnacePast:
    with ledger.read(site) as read:
        return read_furnaces(read.connection, read.site.id)[furnaces.FURNACE]


def recipes_in(ledger: Ledger, site: str) -> list[Recipe]:
    with ledger.read(site) as read:
        return read_recipes(read.connection, read.site.id)[furnaces.RECIPE]


def test_the_furnace_stands_as_it_was_proved_last(hot: Ledger) -> None:
    answer = practise(hot)

    copy, real = furnace_in(hot, CODE), furnace_in(hot, REAL)
    assert copy.furnace == real.furnace
    assert real.proofs[0].found.good is False
    assert [one.found for one in copy.proofs] == [real.proofs[-1].found]
    assert recipes_in(hot, CODE) == recipes_in(hot, REAL)
    assert answer["left"] == []


def test_again_adds_nothing_and_what_changed_is_brought_up_to_date(hot: Ledger) -> None:
    practise(hot)
    assert practise(hot)["added"] == 0

    wide = replace(furnaces.HOT, positions=("a", "b", "c", "d"))
    hot.execute(REAL, SetFurnace(furnace=wide, key="wide"), QUALITY)
    second = replace(furnaces.CYCLE, revision="2", ceiling_c=950.0)
    hot.execute(REAL, ReviseRecipe(recipe=second, key="second"), QUALITY)
    answer = practise(hot)

    assert answer["added"] == 2
    assert furnace_in(hot, CODE).furnace.positions == ("a", "b", "c", "d")
    assert [one.revision for one in recipes_in(hot, CODE)] == ["1", "2"]


def test_a_recipe_changed_for_practice_stays_and_is_named(hot: Ledger) -> None:
    practise(hot)
    own = replace(furnaces.CYCLE, revision="2", ceiling_c=1000.0)
    hot.execute(CODE, ReviseRecipe(recipe=own, key="own"), QUALITY)
    other = replace(furnaces.CYCLE, revision="2", ceiling_c=950.0)
    hot.execute(REAL, ReviseRecipe(recipe=other, key="other"), QUALITY)

    assert practise(hot)["left"] == ["SLOW 2"]
    assert recipes_in(hot, CODE)[-1].ceiling_c == 1000.0


def test_a_run_can_be_opened_in_practice_and_is_none_of_the_real_site(hot: Ledger) -> None:
    practise(hot)
    run = OpenRun(furnace=furnaces.FURNACE, recipe=furnaces.RECIPE, key="run")

    assert hot.execute(CODE, run, MAKER)["run"] == "HF-1-0001"
    assert hot.execute(REAL, replace(run, key="real"), MAKER)["run"] == "HF-1-0001"
