"""Random histories that obey the rules of a record, for any route: one seed, one history."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

COLUMNS = (
    "at", "serial", "product", "act", "step", "outcome", "defect", "characteristic", "value",
    "unit", "lot", "station", "by", "reason", "key",
)  # fmt: skip
START = datetime(2026, 9, 14, 3, 0, tzinfo=UTC)
UNITS = ("mm", "g", "Hz", "g_mm", "%", "furlong")


@dataclass
class Route:
    """A random route: step numbers in order, and what is read at some of them."""

    product: str
    steps: list[int]
    read: dict[int, tuple[str, str]] = field(default_factory=dict)
    target: int = 7

    def toml(self) -> str:
        """The route as its file says it."""
        text = f'[product]\ncode = "{self.product}"\nname = "Thing {self.product}"\n'
        text += f"target_per_week = {self.target}\n"
        for number in self.steps:
            text += f'[[step]]\nnumber = {number}\nname = "Step {number}"\nkind = "machining"\n'
            text += "planned_hours = 1.5\nqueue_hours = 3.0\n"
            if number in self.read:
                code, unit = self.read[number]
                text += f'[[step.characteristic]]\ncode = "{code}"\nunit = "{unit}"\n'
        return text


def random_route(dice: random.Random, product: str) -> Route:
    """A route of one to six steps."""
    steps = sorted(dice.sample(range(1, 500), dice.randint(1, 6)))
    read = {n: (f"c{n}", dice.choice(UNITS)) for n in steps if dice.random() < 0.5}
    return Route(product, steps, read, dice.randint(1, 40))


@dataclass
class PartStory:
    """One part's rows as they happen."""

    dice: random.Random
    route: Route
    serial: str
    at: datetime
    rows: list[dict[str, str]] = field(default_factory=list)
    held: bool = False

    def tell(self, act: str, step: int | str = "", **more: str) -> None:
        """Add a row; sometimes in another offset, sometimes at the very moment of the last."""
        tied = self.dice.random() < 0.1
        if not tied:
            self.at += timedelta(minutes=self.dice.choice((1, 7, 25, 90, 400)))
        offset = timezone(timedelta(hours=self.dice.choice((-5, 0, 2, 9))))
        row = dict.fromkeys(COLUMNS, "")
        row |= {
            "at": self.at.astimezone(offset).isoformat(), "serial": self.serial,
            "product": self.route.product, "act": act, "step": str(step), **more,
        }  # fmt: skip
        # Two equal rows without a key would be one booking.
        if tied or self.dice.random() < 0.5:
            row["key"] = f"{self.serial}#{len(self.rows)}"
        self.rows.append(row)

    def hold(self) -> None:
        """Put it on hold, unless it is."""
        if not self.held:
            self.tell("hold", reason="a look at the lot")
            self.held = True

    def lift(self) -> None:
        """Lift the hold, if there is one."""
        if self.held:
            self.tell("unhold")
            self.held = False

    def run(self) -> None:
        """Live until release, scrap, or the end of what is known."""
        steps, place, back = self.route.steps, 0, False
        self.tell("create")
        for _visit in range(25):
            if self.dice.random() < 0.06:
                return
            if self.dice.random() < 0.08:
                self.hold()
            self.lift()
            place = self._next_place(place, back)
            outcome = self._visit(steps[place])
            if outcome == "scrap":
                return
            back = outcome in ("rework", "repair")
            if not back:
                place += 1
            if place == len(steps):
                if self.dice.random() < 0.4:
                    self.tell("send", steps[-1])
                return

    def _next_place(self, place: int, back: bool) -> int:
        if back and self.dice.random() < 0.6:
            return self.dice.randint(0, place)
        if self.dice.random() < 0.05:
            return self.dice.randint(place, len(self.route.steps) - 1)
        return place

    def _visit(self, step: int) -> str:
        self.tell("begin", step)
        for _ in range(self.dice.choice((0, 0, 0, 1, 2))):
            self.tell("pause", step)
            self.tell("resume", step)
        if step in self.route.read:
            code, unit = self.route.read[step]
            value = f"{self.dice.uniform(-1, 1):.4f}"
            self.tell("measure", step, characteristic=code, value=value, unit=unit)
        if self.dice.random() < 0.06:
            self.hold()
        outcome = self.dice.choices(
            ("pass", "rework", "repair", "concession", "scrap"), (80, 8, 4, 4, 4)
        )[0]
        if self.dice.random() < 0.7 or step == self.route.steps[-1]:
            self.lift()
        if self.dice.random() < 0.05:
            self.tell("pause", step)
        defect = "" if outcome == "pass" else self.dice.choice(("crack", "dent", "pin hole"))
        self.tell("end", step, outcome=outcome, defect=defect)
        return outcome


def random_history(dice: random.Random, route: Route, parts: int) -> list[dict[str, str]]:
    """The rows of so many parts, in a random order that keeps each part's own."""
    stories: list[list[dict[str, str]]] = []
    for number in range(parts):
        at = START + timedelta(hours=dice.uniform(0, 24 * 20))
        story = PartStory(dice, route, f"{route.product}-{number:03d}", at)
        story.run()
        stories.append(story.rows)
    rows: list[dict[str, str]] = []
    while stories:
        rows.append(dice.choice(stories).pop(0))
        stories = [story for story in stories if story]
    return rows


def lines(rows: list[dict[str, Any]]) -> list[tuple[int, dict[str, str]]]:
    """Rows with their line numbers, the header being line 1."""
    return list(enumerate(rows, start=2))
