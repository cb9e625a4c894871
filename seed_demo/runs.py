"""Furnace runs: loaded, started, recorded, judged by their traces, accepted or held.

What the record says of a run is what `ringwright.heat.judge` says of the readings that the
recorder wrote; nothing of it is settled beforehand but what happens in the furnace.
"""

from __future__ import annotations

from random import Random
from typing import Any, Final

from ringwright.core.calendar import HOUR_US, SECOND_US
from ringwright.furnaces.card import SURVEY
from ringwright.furnaces.rules import Run, stands
from ringwright.heat.judge import as_json, judge
from ringwright.heatruns.readings import FAILED_CHANNEL_DEFECT, NOT_MET_DEFECT, why_held
from ringwright.heatruns.running import ABORTED_DEFECT
from seed_demo import furnaces, office
from seed_demo.faults import WORST_LOAD_RISK, Fault
from seed_demo.finding import draw_fault, draw_risk, stop
from seed_demo.furnaces import POSITIONS, RECIPE
from seed_demo.plant import WORK, Job, Part, Place
from seed_demo.shop import MINUTE_US, Shop
from seed_demo.shown import DAY_US, FAILS, RUNS
from seed_demo.traces import (
    ABORTED,
    CHANNELS,
    DEAD,
    GAP,
    GOOD,
    SLIDE,
    STUCK,
    Cycle,
    batches_of,
    cycle_from,
    minutes_of,
    trace_of,
)

LOADING_US: Final = 40 * MINUTE_US
"""People do not begin to load a furnace so shortly before they leave."""
STUCK_MIN, WORST_STUCK_MIN = 10.0, 18.0
GAP_CHANCE: Final = 0.04
AGAIN: Final = "RW-CLEAN"
ABORTED_WHY: Final = "argon purge lost while the bottles were changed"
FINDINGS: Final = {
    "slide": "a heater of one zone failed; its blade scrapped, the others inflated again",
    "starved": "argon ran short; the blades are inflated again",
    "dead": "the other four thermocouples cover the load; report filed",
    "aborted": "nothing was hot yet; the blades are cleaned and go in again",
}
"""What engineering review closes a run with."""


def load_run(shop: Shop, place: Place, load: list[Part]) -> None:
    """A run is made up: opened, each blade laid in, started some minutes later."""
    _renew_worn(shop, place.code)
    by = shop.furnace_hand()
    code = f"{place.code}-{shop.count('runs ' + place.code):04d}"
    revision = furnaces.revision_now(shop)
    shop.tell_of(
        "run", code, "run-opened", by,
        furnace=place.code, recipe=RECIPE, revision=revision,
    )  # fmt: skip
    step = load[0].step.number
    for turn, part in enumerate(load):
        part.visits[step] = part.visits.get(step, 0) + 1
        part.actor, part.station, part.state = by, place.code, WORK
        shop.tell_of(
            "run", code, "part-loaded", by, at_us=shop.now + (3 + 3 * turn) * MINUTE_US,
            serial=part.serial, step=step, position=POSITIONS[turn],
        )  # fmt: skip
    began_us = shop.now + (6 + 3 * len(load)) * MINUTE_US
    cycle = _cycle(shop, code, place, load, began_us)
    serials = [part.serial for part in load]
    shop.runs[code] = {"serials": serials, "by": by, "cycle": cycle.data()}
    product = load[0].card.product
    done_us = _done(shop, cycle)
    place.job = Job(product, step, list(serials), done_us, run=code)
    shop.later(began_us, "start run", code)


def _cycle(shop: Shop, code: str, place: Place, load: list[Part], began_us: int) -> Cycle:
    """What will happen in the furnace."""
    state = shop.states[place.code]
    fate, state["fate"] = state["fate"], ""
    begin, end = shop.shown.last_run
    if place.code == FAILS and begin <= shop.now < end:
        fate = SLIDE
    stuck_min = 0.0
    if not fate:
        fate, stuck_min = _luck(shop, code, load)
    return Cycle(
        run=code,
        furnace=place.code,
        revision=furnaces.revision_now(shop),
        began_us=began_us,
        parts=len(load),
        fate=fate,
        zone=state["zone"],
        aged_c=round(furnaces.aged_c(shop, place.code), 2) + 0.0,
        stuck_min=stuck_min,
    )


def _luck(shop: Shop, code: str, load: list[Part]) -> tuple[str, float]:
    """A load may go quietly wrong: within all limits, but not as others do."""
    risk, stuck_min = draw_risk(shop), STUCK_MIN
    if shop.counts.pop("bad load", 0):
        risk, stuck_min = WORST_LOAD_RISK, WORST_STUCK_MIN
    if risk:
        for part in load:
            part.risk, part.cause = risk, part.step.number
        return STUCK, stuck_min
    # A die of its own: what the recorder does must not change what the factory does next.
    gap = Random(f"gap/{code}").random() < GAP_CHANCE  # noqa: S311 - a story, not a secret
    return (GAP if gap else GOOD), 0.0


def _done(shop: Shop, cycle: Cycle) -> int:
    """When people take the load out: the cycle is over, and somebody is there."""
    die = Random(f"done/{cycle.run}")  # noqa: S311 - a story, not a secret
    over = cycle.began_us + minutes_of(cycle) * MINUTE_US
    opened = shop.hours.next_open(over)
    late = die.randrange(300, 2400) if opened > over else die.randrange(120, 540)
    done = opened + late * SECOND_US
    if cycle.furnace == RUNS and cycle.began_us >= shop.shown.kept_free[1]:
        done = max(done, shop.shown.not_done_us)
    return done


def _renew_worn(shop: Shop, code: str) -> None:
    for channel, uses in zip(CHANNELS, shop.states[code]["uses"], strict=True):
        if uses >= furnaces.MOST_USES - 4:
            furnaces.renew(shop, code, channel)


def start_run(shop: Shop, code: str) -> None:
    """The cycle begins, and every blade's visit with it; the recorder writes."""
    run = shop.runs[code]
    cycle, by = cycle_from(run["cycle"]), run["by"]
    for part in _parts(shop, run):
        part.furnace, part.furnace_us = cycle.furnace, shop.now
        shop.tell(part, "begin", by, step=part.step.number, station=cycle.furnace, run=code)
    shop.tell_of("run", code, "run-started", by)
    state = shop.states[cycle.furnace]
    state["uses"] = [uses + 1 for uses in state["uses"]]
    for at_us, first, last in batches_of(cycle):
        shop.tell_of(
            "run", code, "readings-kept", by, at_us=at_us,
            cycle=run["cycle"], first=first, last=last,
        )  # fmt: skip


def finish_run(shop: Shop, code: str) -> None:
    """The load is taken out, and the trace says what becomes of it."""
    run, by = shop.runs[code], shop.furnace_hand()
    cycle, parts = cycle_from(run["cycle"]), _parts(shop, run)
    for part in parts:
        part.actor = by
    if cycle.fate == ABORTED:
        shop.tell_of("run", code, "run-aborted", by, reason=ABORTED_WHY)
        _hold(shop, code, by, ABORTED_DEFECT, f"{code} was aborted: {ABORTED_WHY}")
        return
    shop.tell_of("run", code, "run-finished", by)
    recipe = furnaces.recipe_of(cycle.revision)
    judgement = as_json(judge(trace_of(cycle), recipe))
    shop.tell_of("run", code, "run-judged", by, judgement=judgement)
    if not stands(judgement):
        met = judgement["verdict"] == "met"
        defect = FAILED_CHANNEL_DEFECT if met else NOT_MET_DEFECT
        _hold(shop, code, by, defect, why_held(Run(code, judgement=judgement)))
        return
    for part in parts:
        number = draw_fault(shop, part)
        if number >= 0:
            stop(shop, part, number)
    _await_review(shop, code)


def _await_review(shop: Shop, code: str) -> None:
    """An inspector looks at it within the hour, in manned hours; at one only after the first
    day, so that it is seen to wait: the last that ended before.
    """
    begin, end = shop.shown.reviewed
    if begin <= shop.now <= end:
        for other in shop.runs.values():
            if other.pop("waits", 0):
                _review_from(shop, cycle_from(other["cycle"]).run, shop.now)
        shop.runs[code]["waits"] = 1
        _review_from(shop, code, end + 30 * MINUTE_US)
        return
    _review_from(shop, code, shop.now)


def _review_from(shop: Shop, code: str, from_us: int) -> None:
    die = Random(f"review/{code}")  # noqa: S311 - a story, not a secret
    at_us = shop.hours.next_open(from_us) + die.randrange(15 * 60, 60 * 60) * SECOND_US
    shop.later(at_us, "accept run", code)


def accept_run(shop: Shop, code: str) -> None:
    """An inspector who did not run it accepts it; the blades still in it go on."""
    run = shop.runs.get(code)
    if run is None:
        return  # it was looked at sooner than was meant
    parts = _parts(shop, run)
    if any(part.stop >= 0 for part in parts):
        shop.later(shop.hours.next_open(shop.now + 3 * HOUR_US), "accept run", code)
        return
    by = shop.crew("inspector")
    die = Random(f"looked/{code}")  # noqa: S311 - a story, not a secret
    shop.tell_of(
        "run", code, "run-accepted", by,
        gas=f"argon dry, dew point {-die.randrange(58, 67)} degC at the end",
        thermocouples="all five where the drawing has them",
        coupons="bright, no colour" if die.random() < 0.8 else "bright, straw at one edge",
    )  # fmt: skip
    for part in parts:
        if part.state == WORK:
            part.actor = by
            shop.end(part, "pass", by, run=code)
    del shop.runs[code]


def _hold(shop: Shop, code: str, by: str, defect: str, why: str) -> None:
    """Every blade is stopped for engineering review; the furnace stands until it is over."""
    run = shop.runs[code]
    cycle = cycle_from(run["cycle"])
    for part in _parts(shop, run):
        part.stop = part.told
        shop.tell(
            part, "stop", by, station=cycle.furnace,
            defect=defect, step=part.step.number, reason=why,
        )  # fmt: skip
        shop.move(part, office.CAGE, by, 4)
    shop.places[cycle.furnace].out = True
    shop.states[cycle.furnace]["held"] = 1
    begin, end = shop.shown.held
    free_us = end + 2 * HOUR_US if begin <= shop.now <= end else shop.now + 5 * HOUR_US
    shop.later(shop.office.next_open(free_us) + 35 * MINUTE_US, "sentence run", code)


def sentence_run(shop: Shop, code: str) -> None:
    """Quality engineer or design authority decides on each blade of a held run."""
    run = shop.runs[code]
    cycle = cycle_from(run["cycle"])
    for turn, part in enumerate(_parts(shop, run)):
        fault = _found(cycle, turn, part)
        office.decide(shop, part, fault, fault.outcome)
    shop.later(shop.now + 25 * MINUTE_US, "close run", code)


def _found(cycle: Cycle, turn: int, part: Part) -> Fault:
    """What the review says of one blade: again where it may, else what its papers cover."""
    card = part.card.rework_card(AGAIN)
    again = card is not None and part.may_follow(card)
    if cycle.fate == DEAD:
        return Fault("a dead thermocouple in its cycle", 0.0, "concession")
    if cycle.fate == ABORTED:
        return Fault("aborted while it heated", 0.0, "rework" if again else "concession", AGAIN)
    if cycle.fate == SLIDE and turn == cycle.zone:
        return Fault("not filled out where the zone was cold", 0.0, "scrap")
    return Fault("not formed to the recipe", 0.0, "rework" if again else "scrap", AGAIN)


def close_run(shop: Shop, code: str) -> None:
    """The review is over; what failed in the furnace is put right."""
    run = shop.runs.pop(code)
    cycle = cycle_from(run["cycle"])
    reason = FINDINGS[cycle.fate]
    shop.tell_of("run", code, "run-closed", "quality-engineer", reason=reason)
    if shop.now < shop.shown.survey_us or cycle.furnace != FAILS or _is_past(shop):
        shop.later(shop.now + 2 * HOUR_US, "furnace put right", cycle.furnace, cycle.fate)


def _is_past(shop: Shop) -> bool:
    """True once the furnace of the first day has been mended, by another plan."""
    return shop.now > shop.shown.mended_us + 4 * DAY_US


def put_right(shop: Shop, code: str, fate: str) -> None:
    """What failed is renewed; after a heater the furnace is surveyed before it is used."""
    state = shop.states[code]
    if fate == DEAD:
        furnaces.renew(shop, code, CHANNELS[state["zone"]])
    elif fate == SLIDE:
        state["c_per_day"] = 0.0
        furnaces.prove(shop, code, SURVEY)
    state["held"] = 0
    furnaces.free(shop, code)


def _parts(shop: Shop, run: dict[str, Any]) -> list[Part]:
    return [shop.parts[serial] for serial in run["serials"]]
