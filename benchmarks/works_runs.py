"""What Fjellvik's furnaces and shifts leave on record: runs with their loads, notes.

A run holds parts of one unit, so that each unit's story stays whole in one transaction; two
units whose parts meet in a furnace at one time stand there as two runs.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any, Final

import numpy as np

from benchmarks.works_rules import INSPECTORS, LOADS, PEOPLE, SPOKE, STATIONS
from benchmarks.works_told import HOUR_US, Told
from ringwright.furnaces import facts
from ringwright.furnaces.card import Channel, Furnace, Proof, Proved
from ringwright.handover.facts import HandoverNoted, HandoverTaken
from ringwright.heat.judge import as_json, judge
from ringwright.heat.packing import pack
from ringwright.heat.recipe import RAMP, SOAK, Recipe, Segment, Use
from ringwright.heat.toml import recipe_data
from ringwright.heat.trace import Trace
from ringwright.parts.facts import Begun

RECIPE: Final = "FJ-SOAK"
POSITIONS: Final = ("left", "middle", "right", "back")
SHIFT_US: Final = 8 * HOUR_US
CYCLE_US: Final = 6 * HOUR_US
RENEWED_US: Final = 26 * 7 * 24 * HOUR_US
"""How long a thermocouple is used."""


def run_code(station: str, unit: int, at_us: int) -> str:
    """The run of a unit's parts that go into a furnace at a moment."""
    return f"{station}-{at_us // CYCLE_US:06}{unit:06}"


def furnaces(at_us: int, end_us: int) -> list[Told]:
    """The furnaces with a survey each, their thermocouples, and the recipe, told at once."""
    told = [
        Told(at_us, RECIPE, facts.RecipeRevised(recipe=recipe_data(_recipe())), "quality-1")
    ]
    for code in STATIONS["furnaces"]:
        furnace = Furnace(
            code=code,
            positions=POSITIONS,
            channels=(Channel(code="tc1_c", most_uses=100_000), Channel(code="tc2_c")),
            proofs={"survey": Proof(days=36_500)},
        )
        day = datetime.fromtimestamp(at_us / 1e6, tz=UTC).date().isoformat()
        proof = Proved(furnace=code, what="survey", on=day, due="9999-12-31", good=True)
        set_ = facts.FurnaceSet(furnace=asdict(furnace))
        told.append(Told(at_us, code, set_, "quality-1"))
        told.append(Told(at_us, code, facts.FurnaceProved(proof=asdict(proof)), "quality-1"))
        # Half a life before the end a renewal, whatever the length of the record.
        first_us = at_us + (end_us - at_us - RENEWED_US // 2) % RENEWED_US
        told += [
            Told(us, code, facts.ThermocoupleRenewed(channel=channel.code), "quality-1")
            for us in range(first_us, end_us, RENEWED_US)
            for channel in furnace.channels
        ]
    return told


def _recipe() -> Recipe:
    soak = Segment(name="soak", kind=SOAK, target_c=800.0, tolerance_c=8.0, min_minutes=300.0)
    ramp = Segment(name="heat", kind=RAMP, target_c=800.0, tolerance_c=8.0)
    return Recipe(
        code=RECIPE,
        name="Soak",
        segments=(ramp, soak),
        planned_minutes=360.0,
        uses=tuple(Use(product=SPOKE.code, step=step) for step in sorted(LOADS)),
    )


def _trace() -> Trace:
    """Up in an hour, held for five: one recording stands for those of all runs."""
    minute = np.arange(361, dtype=float)
    # A thermocouple that reads the same for long counts as failed.
    wobble = 0.4 * np.sin(minute)
    level = 20.0 + np.minimum(minute / 60.0, 1.0) * 780.0
    return Trace(
        at_s=minute * 60.0, temperatures_c={"tc1_c": level + wobble, "tc2_c": level - wobble}
    )


READINGS: Final = pack(_trace())
DIGEST: Final = hashlib.sha256(READINGS).hexdigest()
JUDGED: Final = as_json(judge(_trace(), _recipe()))


def runs(told: Iterable[Told]) -> list[Told]:
    """The runs that a unit's parts began with: opened, loaded, run, read, judged, accepted."""
    loads: dict[str, list[Told]] = {}
    for one in told:
        if isinstance(one.fact, Begun) and one.fact.run:
            loads.setdefault(one.fact.run, []).append(one)
    return [fact for code, begun in loads.items() for fact in _run(code, begun)]


def _run(code: str, begun: list[Told]) -> list[Told]:
    start_us = min(one.at_us for one in begun)
    end_us = start_us + CYCLE_US

    def said(at_us: int, fact: Any, actor: str = PEOPLE[0]) -> Told:
        return Told(at_us, code, fact, actor, begun[0].station)

    opened = facts.RunOpened(furnace=begun[0].station, recipe=RECIPE, revision="1")
    story = [said(start_us - HOUR_US, opened)]
    for place, one in enumerate(begun):
        assert isinstance(one.fact, Begun)
        loaded = facts.PartLoaded(
            serial=one.subject, step=one.fact.step, position=POSITIONS[place]
        )
        story.append(said(start_us - HOUR_US // 2 + place, loaded))
    read = facts.ReadingsKept(digest=DIGEST, first_us=start_us, last_us=end_us, samples=361)
    looked = facts.RunAccepted(gas="dry", thermocouples="as drawn", coupons="bright")
    return [
        *story,
        said(start_us, facts.RunStarted()),
        said(end_us, facts.RunFinished()),
        said(end_us + HOUR_US, read),
        said(end_us + HOUR_US + 1, facts.RunJudged(judgement=JUDGED)),
        said(end_us + 2 * HOUR_US, looked, INSPECTORS[0]),
    ]


def note(serial: str, at_us: int) -> list[Told]:
    """A shift tells the next one something of a part, and that one takes it over."""
    begins_us = at_us - at_us % SHIFT_US
    shift = datetime.fromtimestamp(begins_us / 1e6, tz=UTC).isoformat()
    noted = Told(at_us, shift, HandoverNoted(text="look at it first", serial=serial), PEOPLE[1])
    taken_us = begins_us + SHIFT_US + HOUR_US

    def taken(number: int) -> HandoverTaken:
        return HandoverTaken(notes=(number,))

    return [noted, Told(taken_us, shift, taken, PEOPLE[2], about=noted)]
