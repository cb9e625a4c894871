"""A random cell as the files it would hand over: a site, its products, one history of them all.

Unlike `tests.make.histories` it aims at edges: weeks with a clock change or number 53, weeks
that begin on any day, events at a week's very border, holds on released parts, readings during
a rest, lines told twice, lines in any order, and instants written in any offset.
"""

from __future__ import annotations

import csv
import io
import random
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

from tests.make.histories import COLUMNS, Route, random_route

GOOD, AGAIN = ("pass", "concession"), ("rework", "repair")
# A zone, and the Monday of three weeks in which something is odd there.
EDGES = (
    ("Europe/Oslo", "2026-10-12"),
    ("Europe/Oslo", "2026-03-16"),
    ("America/St_Johns", "2026-10-26"),
    ("Australia/Lord_Howe", "2026-09-21"),
    ("Pacific/Auckland", "2026-09-14"),
    ("Asia/Kolkata", "2026-12-21"),
    ("UTC", "2027-01-04"),
)
STARTS = ("monday 00:00", "sunday 22:00", "thursday 12:00", "thursday 12:01", "friday 06:00")


@dataclass(frozen=True)
class Standing:
    """Where a part stands after a row."""

    open: int | None = None
    due: int | None = None
    free: bool = False
    """A rework or repair: the next begin may be at an earlier step."""
    held: bool = False
    rests: bool = False
    place: str = "waiting"


@dataclass
class Life:
    """One part's rows as they happen, and where each leaves it."""

    dice: random.Random
    route: Route
    serial: str
    at: datetime
    borders: list[datetime]
    rows: list[dict[str, str]] = field(default_factory=list)
    after: list[Standing] = field(default_factory=list)
    now: Standing = field(default_factory=Standing)

    def run(self) -> Life:
        """Live until the part is sent, scrapped, or no more is known of it."""
        self.tell("create", replace(self.now, due=self.route.steps[0]))
        for _ in range(self.dice.choice((0, 4, 12, 40, 80))):
            acts = self.possible()
            if not acts:
                break
            act = self.dice.choice(acts)
            getattr(self, f"_{act}")()
        return self

    def possible(self) -> list[str]:
        """Acts that a record may hold next; the likelier ones several times."""
        now = self.now
        if now.place in ("scrapped", "sent"):
            return []
        acts = ["unhold"] * 3 if now.held else ["hold"]
        if now.place == "released":
            return acts + ["send"] * (not now.held)
        if now.open is None:
            return acts + ["begin"] * (0 if now.held else 15)
        acts += ["resume"] * 6 if now.rests else ["pause"] * 2
        acts += ["measure"] * 3 * (now.open in self.route.read)
        return acts + ["end"] * 12

    def tell(self, act: str, then: Standing, step: int | None = None, **more: str) -> None:
        """Add a row at some later moment, or at the very moment of the last."""
        self.at, before = self._moment(), self.at
        row = dict.fromkeys(COLUMNS, "") | {
            "at": written(self.dice, self.at), "serial": self.serial, "act": act,
            "product": self.route.product, "step": "" if step is None else str(step), **more,
        }  # fmt: skip
        row["station"] = self.dice.choice(("", "M-1", "bench 2"))
        row["by"] = self.dice.choice(("", "ada", "nobody known"))
        if self.at == before or self.dice.random() < 0.4:  # else two rows could be one
            row["key"] = f"{self.serial}/{len(self.rows)}"
        self.now = then
        self.rows.append(row)
        self.after.append(then)

    def _moment(self) -> datetime:
        border = next((b for b in self.borders if self.at < b), None)
        if border is not None and border - self.at < timedelta(days=2):
            if self.dice.random() < 0.15:
                return border
            if self.dice.random() < 0.05:
                return border - timedelta(microseconds=1)
        minutes = self.dice.choice((0, 0, 1, 7, 25, 90, 400, 1500))
        spice = self.dice.choice((0, 0, 123456, 999999))
        return self.at + timedelta(minutes=minutes, microseconds=spice if minutes else 0)

    def _hold(self) -> None:
        self.tell("hold", replace(self.now, held=True), reason="under suspicion, or so")

    def _unhold(self) -> None:
        self.tell("unhold", replace(self.now, held=False))

    def _send(self) -> None:
        self.tell("send", replace(self.now, place="sent"), self.route.steps[-1])

    def _pause(self) -> None:
        self.tell("pause", replace(self.now, rests=True), self.now.open)

    def _resume(self) -> None:
        self.tell("resume", replace(self.now, rests=False), self.now.open)

    def _measure(self) -> None:
        assert self.now.open is not None
        code, unit = self.route.read[self.now.open]
        value = self.dice.choice(("1e-3", "-0.25", "1630000", "0.0"))
        self.tell(
            "measure", self.now, self.now.open, characteristic=code, value=value, unit=unit
        )

    def _begin(self) -> None:
        steps, due = self.route.steps, self.now.due
        assert due is not None
        place = steps.index(due)
        step = due
        if self.now.free and self.dice.random() < 0.5:
            step = self.dice.choice(steps[: place + 1])
        elif self.dice.random() < 0.1:
            step = self.dice.choice(steps[place:])
        self.tell(
            "begin", replace(self.now, open=step, due=None, free=False, place="in work"), step
        )

    def _end(self) -> None:
        step, steps = self.now.open, self.route.steps
        assert step is not None
        last = step == steps[-1]
        weights = (75, 9, 4, 6, 6) if not (last and self.now.held) else (0, 9, 4, 0, 6)
        outcome = self.dice.choices(
            ("pass", "rework", "repair", "concession", "scrap"), weights
        )[0]
        then = replace(self.now, open=None, rests=False, place="waiting", due=step)
        if outcome == "scrap":
            then = replace(then, place="scrapped", due=None)
        elif outcome in AGAIN:
            then = replace(then, free=True)
        elif last:
            then = replace(then, place="released", due=None)
        else:
            then = replace(then, due=steps[steps.index(step) + 1])
        defect = "" if outcome == "pass" else self.dice.choice(("crack", "pin hole, small"))
        self.tell("end", then, step, outcome=outcome, defect=defect)


@dataclass
class Cell:
    """A site, its products, and the lives of their parts."""

    code: str
    zone: str
    week_starts: str
    routes: list[Route]
    lives: list[Life]
    monday: datetime

    def site(self) -> str:
        """The site as its file says it."""
        return (
            f'[site]\ncode = "{self.code}"\nname = "Cell"\nzone = "{self.zone}"\n'
            f'week_starts = "{self.week_starts}"\n'
        )

    def weeks(self) -> list[str]:
        """The ISO weeks its history touches, and one before."""
        days = [self.monday + timedelta(days=7 * n) for n in range(-1, 4)]
        return [f"{day.isocalendar().year}-W{day.isocalendar().week:02}" for day in days]

    def lines(self, dice: random.Random) -> list[dict[str, str]]:
        """Every row once, some twice: in any order, but parts keep theirs at one moment."""
        told: list[tuple[float, int, dict[str, str]]] = []
        for life in self.lives:
            order: dict[datetime, float] = {}
            for number, row in enumerate(life.rows):
                place = order.setdefault(datetime.fromisoformat(row["at"]), dice.random())
                told.append((place, number, row))
        rows = [row for _place, _number, row in sorted(told, key=lambda each: each[:2])]
        return rows + [again(dice, row) for row in dice.sample(rows, min(6, len(rows)))]


def again(dice: random.Random, row: dict[str, str]) -> dict[str, str]:
    """The same booking told a second time, its instant perhaps in another offset."""
    return row | {"at": written(dice, datetime.fromisoformat(row["at"]))}


def written(dice: random.Random, at: datetime) -> str:
    """An instant as somebody somewhere would write it."""
    offset = timedelta(minutes=dice.choice((0, 0, 60, 120, -210, 345, 660)))
    text = at.astimezone(timezone(offset)).isoformat()
    return text.replace("+00:00", "Z") if dice.random() < 0.5 else text


def random_cell(dice: random.Random, parts: int) -> Cell:
    """One to three products whose parts live through an odd week."""
    zone, day = dice.choice(EDGES)
    starts = dice.choice(STARTS)
    monday = datetime.fromisoformat(day).replace(tzinfo=UTC)
    routes = [random_route(dice, f"P{n}") for n in range(dice.randint(1, 3))]
    borders = [border(monday + timedelta(days=7 * n), zone, starts) for n in range(5)]
    lives = [
        Life(dice, dice.choice(routes), f"S{number:03d}",
             monday + timedelta(hours=round(dice.uniform(-60, 400))), borders).run()
        for number in range(parts)
    ]  # fmt: skip
    return Cell(f"C{dice.randrange(1000)}", zone, starts, routes, lives, monday)


def border(monday: datetime, zone: str, starts: str) -> datetime:
    """A moment in that week at which a site week begins."""
    day, clock = starts.split()
    names = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    hour, minute = map(int, clock.split(":"))
    wall = (monday + timedelta(days=names.index(day))).replace(hour=hour, minute=minute)
    return wall.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def as_csv(rows: list[dict[str, str]]) -> str:
    """Rows as the text of a history file."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
