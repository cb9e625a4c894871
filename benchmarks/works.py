"""Fjellvik Spoke Works at work: what happened to its parts, week after week, as facts.

Every week is like the next, so a longer record means a longer past and not more parts on the
floor. A unit is three spokes and a hub; two spokes and the hub become a wheel. On the way parts
are measured, moved, held, reworked, stopped, sentenced, scrapped, looked for and contained.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

from benchmarks.works_rules import (
    CARD,
    CHECK,
    HUB,
    INSPECTORS,
    LOADS,
    MEASURED,
    PEOPLE,
    REPEAT,
    SPOKE,
    STATIONS,
    STEPS,
    WHEEL,
    Product,
)
from benchmarks.works_runs import furnaces, note, run_code, runs
from benchmarks.works_told import HOUR_US, Told
from ringwright.core.facts import Fact
from ringwright.parts import facts

DAY_US = 24 * HOUR_US
WEEK_US = 7 * DAY_US
UNITS_PER_WEEK = 6
UNIT_US = WEEK_US // UNITS_PER_WEEK
DEFECTS = ("pin hole", "scratch", "wall thin", "no bond")
PLACES = ("tip", "root", "upper cavity", "leading edge", "front flange", "barrel", "boss")
GAUGES = tuple(f"G-{number}" for number in range(1, 7))
TROLLEYS = tuple(f"TR-{number:02}" for number in range(1, 13))


class _Life:
    """One part on its way; `at_us` is where its story has come to."""

    def __init__(self, serial: str, product: Product, at_us: int, dice: random.Random) -> None:
        self.unit = int(serial[1:7])
        self.serial, self.product, self.at_us, self.dice = serial, product, at_us, dice
        self.told: list[Told] = []
        self.station = ""
        self.alive = True

    def tell(self, fact: Any, hours: float = 0.0, actor: str = "", **more: Any) -> Told:
        """Something happens so many hours (and a moment) later."""
        self.at_us += int(hours * HOUR_US) + 1_000_000
        actor = actor or self.dice.choice(PEOPLE)
        told = Told(self.at_us, self.serial, fact, actor, self.station, **more)
        self.told.append(told)
        return told

    def chance(self, share: float) -> bool:
        """True in this share of cases."""
        return self.dice.random() < share

    def span(self, mean_hours: float) -> float:
        """Hours that scatter about a mean."""
        return mean_hours * (0.3 + 1.4 * self.dice.random())

    def live(self) -> None:
        """From creation to dispatch, or to scrap."""
        code = self.product.code
        lot = f"{code[:2]}-{self.at_us // WEEK_US:04}"
        self.tell(facts.Created(product=code, revision="1", lot=lot))
        if self.chance(0.03):
            self.tell(facts.Prioritised(rank=1, reason="customer waits"), 1.0)
        for step in self.product.steps:
            self._wait()
            self._visit(step)
            if not self.alive:
                return
        if self.chance(0.01):
            self._take_back()

    def _wait(self) -> None:
        self.station = ""
        if self.chance(0.2):
            self.tell(facts.Moved(to=self.dice.choice((*TROLLEYS, "RACK-A", "RACK-B"))), 0.3)
        if self.chance(0.015):
            self.tell(facts.Held(reason="paper missing"), 1.0, "insp-1")
            self.tell(facts.HoldLifted(reason="paper found"), self.span(20), "insp-1")
        elif self.chance(0.004):
            code = f"CN-{self.at_us // (4 * WEEK_US):04}"
            self.tell(facts.Contained(containment=code, reason="gauge doubted"), 1.0, "insp-1")
            self.tell(facts.Cleared(containment=code, reason="gauge sound"), 30.0, "insp-1")
        elif self.chance(0.004):
            self.tell(facts.Sought(reason="not on its rack"), 2.0)
            self.tell(facts.Found(where="RACK-B"), 5.0)
        self.at_us += int(self.span(30) * HOUR_US)

    def _begin(self, step: int) -> str | None:
        """It goes to a station; the furnace run it goes in with, if any."""
        stations = STATIONS[STEPS[step][2]]
        self.station = self.dice.choice(stations)
        if step in LOADS:
            # The furnace starts twice a day; whoever is there by then goes in together.
            self.at_us += 12 * HOUR_US - self.at_us % (12 * HOUR_US) - 1_000_000
        lot = f"CH-{self.at_us // (4 * WEEK_US):04}" if step == 20 else None
        run = run_code(self.station, self.unit, self.at_us) if step in LOADS else None
        self.tell(facts.Begun(step=step, lot=lot, run=run))
        return run

    def _visit(self, step: int) -> None:
        run = self._begin(step)
        if run is not None:
            self.tell(facts.Ended(step=step, outcome="pass", run=run), 8.5)
            return
        if self.chance(0.04):
            self.tell(facts.Paused(step=step), 0.5)
            self.tell(facts.Resumed(step=step), self.span(6))
        self._measure(step)
        if step == CHECK and self.chance(0.06):
            self._stop(step)
            return
        outcome, defect = self._outcome(step)
        who = self.dice.choice(INSPECTORS) if step == CHECK else ""
        ended = facts.Ended(step=step, outcome=outcome, defect=defect)
        self.tell(ended, self.span(2), who)
        if outcome == "rework":
            self._wait()
            self._begin(step)
            self.tell(facts.Ended(step=step, outcome="pass"), self.span(2))
        self.alive = outcome != "scrap"
        if not self.alive:
            self._witness()

    def _outcome(self, step: int) -> tuple[str, str | None]:
        drawn = self.dice.random()
        if step in (self.product.steps[0], self.product.steps[-1]) or drawn > 0.025:
            return "pass", None
        return ("scrap" if drawn < 0.008 else "rework"), self.dice.choice(DEFECTS)

    def _measure(self, step: int) -> None:
        if step not in MEASURED:
            return
        value = round(self.dice.gauss(10.0, 0.15), 3)
        gauge = self.dice.choice(GAUGES)
        read = facts.Measured(
            step=step, characteristic="width", value=value, unit="mm", gauge=gauge
        )
        told = self.tell(read, 0.4)
        if self.chance(0.01):
            mended = facts.Corrected(fields={"value": round(value + 0.01, 3)}, reason="misread")
            self.tell(mended, 0.2, "insp-1", about=told, corrects=True)

    def _stop(self, step: int) -> None:
        defect, place = self.dice.choice(DEFECTS), self.dice.choice(PLACES)
        found = facts.Stopped(defect=defect, step=step, place_on_part=place)
        stop = self.tell(found, 0.5, "insp-1")
        decision = self.dice.choice(("rework", "rework", "concession", "scrap"))
        card = CARD if decision == "rework" else None
        kept = "marked" if decision == "scrap" else None
        caused = self.dice.choice(self.product.steps[1:4])

        def sentence(number: int) -> Fact:
            return facts.Sentenced(
                nonconformity=number,
                decision=decision,
                card=card,
                defect=defect,
                place_on_part=place,
                caused_step=caused,
                document="C-1" if decision == "concession" else None,
                kept=kept,
            )

        self.tell(sentence, self.span(30), "quality-1", about=stop)
        if decision == "scrap":
            self.alive = False
            self._witness()
        elif decision == "rework":
            self._repeat(step)

    def _repeat(self, step: int) -> None:
        for again in (*REPEAT, step):
            self._wait()
            self._begin(again)
            self._measure(again)
            self.tell(facts.Ended(step=again, outcome="pass"), self.span(2))

    def _witness(self) -> None:
        self.tell(facts.Witnessed(how="sawn through"), self.span(60), "insp-1")

    def _take_back(self) -> None:
        """A release that did not hold: the part goes through its last step once more."""
        last = self.product.steps[-1]
        stop = self.tell(facts.Stopped(defect="scratch", step=last), 3.0, "insp-1")

        def sentence(number: int) -> Fact:
            return facts.Sentenced(nonconformity=number, decision="rework", defect="scratch")

        self.tell(sentence, self.span(20), "quality-1", about=stop)
        self._begin(last)
        self.tell(facts.Ended(step=last, outcome="pass"), 1.0)

    def send(self) -> None:
        """The released part leaves; now and then its owner hears of a containment later."""
        self.station = ""
        self.tell(facts.Sent(), self.span(20))
        if self.chance(0.02):
            code = f"CN-{self.at_us // (4 * WEEK_US):04}"
            self.tell(facts.Contained(containment=code, reason="lot doubted"), 90, "quality-1")
            notice = facts.NoticeSent(containment=code, to="customer")
            self.tell(notice, 30.0, "quality-1")
            self.tell(facts.Cleared(containment=code), 200.0, "quality-1")


def unit(number: int, at_us: int, end_us: int) -> list[Told]:
    """What happened to one unit's parts before `end_us`, in order."""
    dice = random.Random(number)
    told: list[Told] = []
    members = []
    for product, code in ((SPOKE, "A"), (SPOKE, "B"), (SPOKE, "C"), (HUB, "")):
        life = _Life(f"{product.code[0]}{number:06}{code}", product, at_us, dice)
        life.live()
        if life.alive and code != "C":
            members.append(life)
        elif life.alive:
            life.send()
        told += life.told
    if members:
        told += _wheel(number, members, dice)
    told += runs(told)
    told += note(f"H{number:06}", at_us + HOUR_US)
    return sorted((one for one in told if one.at_us < end_us), key=lambda one: one.at_us)


def _wheel(number: int, members: list[_Life], dice: random.Random) -> list[Told]:
    """The wheel that takes the parts that came through."""
    joined_us = max(life.at_us for life in members) + DAY_US
    wheel = _Life(f"W{number:06}", WHEEL, joined_us - 2_000_000, dice)
    wheel.live()
    if wheel.alive:
        wheel.send()
    serials = tuple(sorted(life.serial for life in members))
    whole = Told(joined_us, wheel.serial, facts.Joined(members=serials), PEOPLE[0])
    return [
        *(Told(joined_us, one, facts.Joined(whole=wheel.serial), PEOPLE[0]) for one in serials),
        wheel.told[0],
        whole,
        *wheel.told[1:],
    ]


def units(weeks: int, end_us: int) -> Iterator[list[Told]]:
    """The units of so many weeks up to `end_us`, the oldest first, after the furnaces."""
    count = weeks * UNITS_PER_WEEK
    begin_us = end_us - count * UNIT_US
    yield furnaces(begin_us, end_us)
    for number in range(count):
        yield unit(number, begin_us + number * UNIT_US, end_us)
