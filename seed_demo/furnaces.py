"""The inflation furnaces of the invented factory: what they are, what is proved of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from functools import cache
from importlib.resources import files
from random import Random
from typing import Any, Final

from ringwright.core.calendar import HOUR_US, site_time
from ringwright.core.fields import as_data
from ringwright.furnaces.card import (
    ACCURACY,
    GAS,
    LEAK,
    SURVEY,
    Channel,
    Furnace,
    Proof,
    Proved,
)
from ringwright.furnaces.rules import due_day
from ringwright.heat.recipe import Recipe
from ringwright.heat.toml import parse_recipe, recipe_data
from ringwright.sites.site import Gauge
from seed_demo.hours import Span
from seed_demo.shop import MINUTE_US, Shop
from seed_demo.shown import DAY_US, FAILS, RUNS, empty_from
from seed_demo.traces import ABORTED, CHANNELS, DEAD, SLIDE, STARVED

WEEK_US: Final = 7 * DAY_US
GROUP: Final = "inflation-furnace"
CODES: Final = (RUNS, FAILS)
POSITIONS: Final = ("front-left", "front-right", "rear-left", "rear-right")
RECIPE: Final = "INFLATE-22"
REVISIONS: Final = ("1", "2")
REVISED_WEEK: Final = 12
"""Counted from 0: the week in which the second revision came into force."""
MOST_USES: Final = 60
SURVEY_DAYS: Final = 28
"""From one survey to the next; it holds two days longer."""
PROOFS: Final = {
    SURVEY: Proof(days=30),
    ACCURACY: Proof(days=30, limit=2.2),
    LEAK: Proof(days=8, limit=5.0),
    GAS: Proof(days=8, limit=99.995),
}
"""How often: as many shops do, common practice, no source. A survey's limit is its class's."""
FOUND: Final = {
    SURVEY: (4.4, 8.3),
    ACCURACY: (0.3, 1.6),
    LEAK: (0.9, 3.2),
    GAS: (99.998, 99.9997),
}
"""Within which what is proved lies while the furnace is well: degC, degC, Pa/min, %."""
FAILED_SURVEY_C: Final = 12.6
FAILED_LEAK: Final = 8.7
REAR_RIGHT: Final = 3
"""Place of its thermocouple."""
DRIFTS_C_PER_DAY: Final = 0.7
"""How a zone ages over the days before it fails on the first day."""
INCIDENTS: Final[dict[int, tuple[tuple[int, str, tuple[Any, ...]], ...]]] = {
    1: ((30, "doom", (STARVED, 0)),),
    3: ((8, "age", (1, 1.5)), (84, "doom", (SLIDE, 1))),
    6: ((40, "doom", (DEAD, 2)),),
    8: ((60, "doom", (ABORTED, 0)),),
}
"""Week of every ten to hours after its start, the act, what about: each furnace in turn."""
GAS_GAUGE: Final = "GAS-1"


def furnace_of(code: str) -> Furnace:
    """One of the two, which are alike."""
    return Furnace(
        code=code,
        furnace_class=4,
        positions=POSITIONS,
        channels=tuple(
            Channel(code=name, gauge=f"TC-{code}-{place}", most_uses=MOST_USES)
            for place, name in enumerate(CHANNELS, 1)
        ),
        pressure_gauge=f"PRG-{code}",
        gas_gauge=GAS_GAUGE,
        proofs=PROOFS,
    )


def furnace_gauges() -> Iterator[Gauge]:
    """What the runs are read with: thermocouples and pressure gauges, and one for the gas."""
    for code in CODES:
        for place in range(1, len(CHANNELS) + 1):
            yield Gauge(
                code=f"TC-{code}-{place}", kind="thermocouple", name="Load thermocouple",
                unit="degC", uncertainty=0.9, resolution=0.1, station=code,
            )  # fmt: skip
        yield Gauge(
            code=f"PRG-{code}", kind="pressure-gauge", name="Cavity pressure gauge",
            unit="kPa", uncertainty=2.5, resolution=0.1, station=code,
        )  # fmt: skip
    yield Gauge(
        code=GAS_GAUGE, kind="gas-analyser", name="Argon analyser",
        unit="%", uncertainty=0.0005, resolution=0.0001,
    )  # fmt: skip


@cache
def recipe_of(revision: str) -> Recipe:
    """One revision of the recipe."""
    name = f"{RECIPE}-{revision}.toml"
    text = files("seed_demo").joinpath("cards", name).read_text(encoding="utf-8")
    return parse_recipe(text, name)


def new_state() -> dict[str, Any]:
    """A furnace as it is on its first day."""
    return {"uses": [0] * len(CHANNELS), "zone": 0, "aged_us": 0, "c_per_day": 0.0, "fate": ""}


def set_furnaces(shop: Shop) -> None:
    """The quality engineer enters furnaces and recipe, and everything is proved once."""
    shop.tell_of(
        "recipe", RECIPE, "recipe-revised", "quality-engineer",
        recipe=recipe_data(recipe_of("1")), reason="released with the type",
    )  # fmt: skip
    for code in CODES:
        furnace = as_data(furnace_of(code))
        shop.tell_of("furnace", code, "furnace-set", "quality-engineer", furnace=furnace)
        for what in PROOFS:
            prove(shop, code, what)


def revise_recipe(shop: Shop) -> None:
    """The design authority asks for a slower rise of the pressure."""
    shop.count("recipe revised")
    why = "skins came thin at the tip: the pressure may rise 10 kPa a minute at most"
    recipe = recipe_data(recipe_of("2"))
    shop.tell_of(
        "recipe", RECIPE, "recipe-revised", "design-authority", recipe=recipe, reason=why
    )


def revision_now(shop: Shop) -> str:
    """The revision that a run opened now is run by."""
    return REVISIONS[shop.counts.get("recipe revised", 0)]


def prove(
    shop: Shop, code: str, what: str, *, value: float | None = None, note: str = ""
) -> None:
    """Something is proved of a furnace; with a value given it failed, and the note says how."""
    furnace = furnace_of(code)
    low, high = FOUND[what]
    # A die of its own: what is found must not change what the factory does next.
    random = Random(f"{code}/{what}/{shop.now}")  # noqa: S311 - a story, not a secret
    good = value is None
    digits = 4 if what == GAS else 1
    found = round(random.uniform(low, high), digits) if value is None else value
    day = site_time(shop.now, shop.zone).date().isoformat()
    proved = Proved(
        furnace=code,
        what=what,
        on=day,
        due=due_day(furnace, what, day),
        good=good,
        value=found,
        certificate=f"HRW-F-{shop.count('furnace certificates'):04}" if good else "",
        note=note,
    )
    turn = shop.hours.turn(shop.now)[0]
    by = shop.first_of("inspector", turn)
    shop.tell_of("furnace", code, "furnace-proved", by, proof=asdict(proved))


def prove_weekly(shop: Shop) -> None:
    """Leak rate and argon, before the first load of the week."""
    for code in CODES:
        for what in (LEAK, GAS):
            prove(shop, code, what)


def surveys(shop: Shop, from_us: int, to_us: int) -> Iterator[tuple[str, int]]:
    """The furnaces' survey nights within a span; they take turns, every four weeks each."""
    each = SURVEY_DAYS * DAY_US
    for code, off_us in ((FAILS, 0), (RUNS, each // 2)):
        at_us = shop.shown.survey_us + off_us
        at_us += -((at_us - from_us) // each) * each
        while at_us < to_us:
            yield code, at_us
            at_us += each


def make_way(shop: Shop, code: str) -> None:
    """The furnace takes no more loads, so that it stands empty for its survey."""
    shop.places[code].out = True


def survey(shop: Shop, code: str) -> None:
    """The furnace is surveyed at night; the one of the first day fails, and is shut."""
    if (code, shop.now) != (FAILS, shop.shown.survey_us):
        prove(shop, code, SURVEY)
        prove(shop, code, ACCURACY)
        shop.later(shop.hours.next_open(shop.now) + 40 * MINUTE_US, "furnace free", code)
        return
    note = "rear right reads too cold at 912 degC"
    prove(shop, code, SURVEY, value=FAILED_SURVEY_C, note=note)
    shop.states[code]["fate"] = ""
    shop.do("shut", code, "survey failed", "quality-engineer")
    at_us = shop.office.next_open(shop.shown.mended_us)
    shop.later(at_us + 70 * MINUTE_US, "furnace mended", code)


def free(shop: Shop, code: str) -> None:
    """It is loaded again."""
    if shop.states[code].get("held"):
        return
    shop.places[code].out = False
    shop.ring(shop.places[code].group.lines[0])


def mended(shop: Shop, code: str) -> None:
    """The heater that went cold is renewed, and the survey is passed."""
    state = shop.states[code]
    renew(shop, code, CHANNELS[state["zone"]])
    state.update(c_per_day=0.0, held=0)
    prove(shop, code, SURVEY, note="")
    shop.do("open", code, "heater renewed, survey passed", "quality-engineer")
    free(shop, code)


def renew(shop: Shop, code: str, channel: str) -> None:
    """A thermocouple of the load is replaced; its uses count from here."""
    shop.states[code]["uses"][CHANNELS.index(channel)] = 0
    gauge = f"TC-{code}-{CHANNELS.index(channel) + 1}"
    shop.tell_of(
        "furnace", code, "thermocouple-renewed", "supervisor", channel=channel, gauge=gauge
    )


def age(shop: Shop, code: str, zone: int, c_per_day: float) -> None:
    """From now on a zone reads colder every day."""
    shop.states[code].update(zone=zone, aged_us=shop.now, c_per_day=c_per_day)


def aged_c(shop: Shop, code: str) -> float:
    """How far the zone that ages reads from where it did."""
    state = shop.states[code]
    return float(-state["c_per_day"] * (shop.now - state["aged_us"]) / DAY_US)


def doom(shop: Shop, code: str, fate: str, zone: int) -> None:
    """What becomes of the next run of a furnace."""
    shop.states[code].update(fate=fate, zone=zone)


def plan_furnaces(shop: Shop, index: int, start_us: int, end_us: int) -> None:
    """What is meant for the furnaces this week."""
    for code, at_us in surveys(shop, start_us, end_us + 5 * DAY_US):
        _plan(shop, (start_us, end_us), empty_from(shop.past_hours, at_us), "make way", code)
        _plan(shop, (start_us, end_us), at_us, "survey furnace", code)
    opened = shop.hours.next_open(start_us)
    shop.later(opened + 10 * MINUTE_US, "prove weekly" if index else "set furnaces")
    if index == REVISED_WEEK:
        shop.later(start_us + 58 * HOUR_US, "revise recipe")
    ages = ("age", FAILS, REAR_RIGHT, DRIFTS_C_PER_DAY)
    _plan(shop, (start_us, end_us), shop.shown.drifts_us, *ages)
    if start_us - WEEK_US <= shop.shown.shown_us < start_us + 3 * WEEK_US:
        return  # what is to be seen on the first day is enough
    for hours, act, given in INCIDENTS.get(index % 10, ()):
        code = CODES[index // 10 % 2]
        shop.later(start_us + hours * HOUR_US, act, code, *given)


def _plan(shop: Shop, week: Span, at_us: int, act: str, *given: Any) -> None:
    if week[0] <= at_us < week[1]:
        shop.later(at_us, act, *given)
