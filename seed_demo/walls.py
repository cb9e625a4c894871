"""The walls of the invented cases: read after the bore and when finished, and one too thin.

The story says of a set only which case was read at which step and visit; its readings are made
from that alone when they are written, so that the same story always gives the same walls. The
least of a finished wall is the `wall_min` that the story tells of the same visit.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from random import Random
from typing import Any, Final

import numpy as np

from ringwright.attachments.service import keep_many
from ringwright.core.calendar import SECOND_US
from ringwright.ledger.transaction import Tx
from ringwright.walls.mapping import zone_places
from ringwright.walls.packing import pack
from ringwright.walls.plan import ULTRASONIC, WallPlan
from ringwright.walls.reading import WallReading
from ringwright.walls.toml import parse_plan, plan_data
from seed_demo.hours import Span
from seed_demo.plant import Part
from seed_demo.shop import Shop
from seed_demo.shown import DAY_US
from seed_demo.told import Told

PRODUCT: Final = "HF22-CASE"
BORED, FINISHED = 40, 90
READ: Final = "wall-read"
LEAST: Final = "wall_min"
"""The characteristic that is the least of a finished wall."""
GAUGE: Final = "USG-1"
"""The set of the tank; it is carried to the lathe for the check in process."""
U_MM: Final = 0.02
STATIONS: Final = tuple(float(mm) for mm in range(20, 400, 40))
ANGLES: Final = tuple(float(deg) for deg in range(0, 360, 15))
USUAL_OFF_MM: Final = (0.15, 0.04)
"""How much thicker than planned a bored wall is: mean, and spread from case to case."""
ECCENTRIC_MM: Final = (0.05, 0.015)
OVAL_MM: Final = 0.02
NOISE_MM: Final = 0.012
LEFT: Final = 0.9
"""The share of a bored wall's unevenness that the finishing cut leaves."""
THIN: Final = {"off": 0.12, "eccentric": 0.30, "towards": 137.0}
"""The case of the first day: bored off centre, so that its thin side will come out too thin."""
THIN_DAYS: Final = 7
"""It was bored within so many days before that day: the last cut is still to come."""


@cache
def wall_plan() -> WallPlan:
    """How the wall of the case is read and judged."""
    name = f"{PRODUCT}-walls.toml"
    text = files("seed_demo").joinpath("cards", name).read_text(encoding="utf-8")
    return parse_plan(text, name)


def set_wall_plan(shop: Shop) -> None:
    """The quality engineer loads the wall plan of the case."""
    shop.tell_of(
        "wall-plan", PRODUCT, "wall-plan-set", "quality-engineer",
        plan=plan_data(wall_plan()), reason="released with the type",
    )  # fmt: skip


def read_wall(shop: Shop, part: Part, span: Span, least: float) -> None:
    """The wall is read near the end of the visit, where the plan asks it.

    `span` is when there is time to; `least` the wall that the visit's own reading told.
    """
    step, (since, done) = part.step.number, span
    if part.card.product != PRODUCT or step not in wall_plan().steps:
        return
    at_us = done - (done - since) // 6
    at_us = max(since, at_us - at_us % SECOND_US)
    thin = step == BORED and _is_shown(shop, at_us)
    told = {"step": step, "visit": part.visits[step], "thin": thin, "least": least}
    shop.tell_of("wall", part.serial, READ, part.actor, at_us=at_us, **told)


def _is_shown(shop: Shop, at_us: int) -> bool:
    """True for the one case that is to be seen thin on the first day."""
    shown_us = shop.shown.shown_us
    if shop.counts.get("thin wall") or not shown_us - THIN_DAYS * DAY_US < at_us < shown_us:
        return False
    shop.count("thin wall")
    return True


def with_walls(tx: Tx, told: Sequence[Told]) -> list[Told]:
    """What is told, with every set of wall readings kept and named by its digest."""
    sets = [readings_of(one.subject, one.data) for one in told if one.kind == READ]
    digests = iter(keep_many(tx, [pack(one) for one in sets], "text/csv"))
    read = iter(sets)
    return [
        one._replace(data=_data(one, len(next(read)), next(digests)))
        if one.kind == READ
        else one
        for one in told
    ]


def _data(one: Told, count: int, digest: str) -> dict[str, Any]:
    """The particulars of the fact, as `ringwright.wallmaps.service` records them."""
    return {
        "product": PRODUCT,
        "revision": wall_plan().revision,
        "step": one.data["step"],
        "method": ULTRASONIC,
        "digest": digest,
        "readings": count,
        "gauge": GAUGE,
        "u_mm": U_MM,
        "source": f"{one.subject}-{one.data['step']}-{one.data['visit']}.csv",
    }


def readings_of(serial: str, told: dict[str, Any]) -> tuple[WallReading, ...]:
    """The readings of one set: the same for the same case, step and visit."""
    own = Random(f"wall/{serial}")  # noqa: S311 - a story, not a secret
    off = own.gauss(*USUAL_OFF_MM)
    eccentric, towards = abs(own.gauss(*ECCENTRIC_MM)), own.uniform(0.0, 360.0)
    oval_towards, slope = own.uniform(0.0, 180.0), own.uniform(-0.02, 0.02)
    if told["thin"]:
        off, eccentric, towards = THIN["off"], THIN["eccentric"], THIN["towards"]
    stations, angles = (one.ravel() for one in np.meshgrid(STATIONS, ANGLES, indexing="ij"))
    shape = -eccentric * np.cos(np.radians(angles - towards))
    shape -= OVAL_MM * np.cos(2 * np.radians(angles - oval_towards))
    shape += slope * (stations / 200.0 - 1.0)
    step = told["step"]
    dice = np.random.default_rng([int(serial[-4:]), step, told["visit"]])
    noise = dice.normal(0.0, NOISE_MM, shape.size)
    planned = _planned_mm(step, stations, angles)
    if step == FINISHED:
        shape = LEFT * shape + noise
        off = told["least"] - float((planned + shape).min())
    else:
        shape = shape + noise
    wall = planned + off + shape
    return tuple(
        WallReading(
            station_mm=float(station), angle_deg=float(angle), wall_mm=round(float(mm), 3)
        )
        for station, angle, mm in zip(stations, angles, wall, strict=True)
    )


def _planned_mm(step: int, stations: np.ndarray, angles: np.ndarray) -> np.ndarray:
    """The nominal wall after a step at each place."""
    plan = wall_plan()
    nominal = np.array([zone.limits_after(step).nominal or 0.0 for zone in plan.zones])
    return np.asarray(nominal[zone_places(plan, stations, angles)])
