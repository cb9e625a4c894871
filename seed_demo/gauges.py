"""The gauges of the invented factory: the register, and the checks that open a shift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from random import Random
from typing import Any, Final

from ringwright.core.conformity import guard_band
from ringwright.routecards.card import Characteristic, RouteCard
from ringwright.sites.site import Calibration, Gauge, Master, SiteFile
from seed_demo.furnaces import furnace_gauges
from seed_demo.plant import DONE, SCRAP, SENT, WORK, Part
from seed_demo.readings import gauge_at
from seed_demo.shop import MINUTE_US, Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What gauges of one kind are worth."""

    name: str
    unit: str
    uncertainty: float
    resolution: float
    also: dict[str, float] = field(default_factory=dict)


KINDS: Final[dict[str, Kind]] = {
    "micrometer": Kind(name="Micrometer", unit="mm", uncertainty=0.004, resolution=0.001),
    "ultrasonic": Kind(
        name="Ultrasonic set", unit="mm", uncertainty=0.02, resolution=0.01, also={"%": 0.06}
    ),
    "cmm": Kind(
        name="Measuring machine",
        unit="mm",
        uncertainty=0.0025,
        resolution=0.001,
        also={"deg": 0.02},
    ),
    "scale": Kind(name="Scale", unit="g", uncertainty=0.2, resolution=0.1),
    "crane-scale": Kind(name="Crane scale", unit="kg", uncertainty=0.4, resolution=0.5),
    "moment-scale": Kind(
        name="Moment scale",
        unit="g_mm",
        uncertainty=18.0,
        resolution=10.0,
        also={"g_mm2": 9000.0},
    ),
    "ring-test": Kind(name="Tap rig", unit="Hz", uncertainty=0.12, resolution=0.01),
    "laue": Kind(name="Crystal camera", unit="deg", uncertainty=0.3, resolution=0.1),
    "bore-gauge": Kind(name="Bore gauge", unit="mm", uncertainty=0.004, resolution=0.001),
}
MASTERS: Final = (
    Master(
        code="MASTER-22",
        gauge_kind="moment-scale",
        unit="g_mm",
        value=1_630_240.0,
        allowed=60.0,
        name="Blade that never leaves the weighing room",
    ),
    Master(
        code="MASTER-22",
        gauge_kind="ring-test",
        unit="Hz",
        value=141.86,
        allowed=0.4,
        name="The same blade, clamped at its root",
    ),
)
OVERDUE: Final = Gauge(
    code="CMG-9",
    kind="cmm",
    name="Portable arm, spare",
    unit="mm",
    uncertainty=0.004,
    resolution=0.001,
)
CALIBRATED_DAYS: Final = 200
"""How long before the day the demo opens its gauges were calibrated: before its story."""
DUE_DAYS: Final = 165
FAILS: Final[dict[int, str]] = {10: "MSC-1"}
"""Which shift of the week, from 0, opens with a failed check, and of which gauge."""
TRUSTED_H: Final = 26
STUDIES: Final = (
    ("MSC-1", "moment", "g_mm", (1_630_000.0, 5_500.0, 12.0, 6.0), (1_610_000.0, 1_650_000.0)),
    ("BGE-2", "bore_diameter", "mm", (1236.0, 0.03, 0.004, 0.006), (1235.9, 1236.1)),
)
"""Gauge, what was read, unit; mean, spread of parts, of repeats, of operators; limits."""
STUDY_PARTS, STUDY_PEOPLE, STUDY_TURNS = 10, 3, 2


def uncertainty_of(kind: str | None, unit: str) -> float | None:
    """Standard uncertainty of one reading with a gauge of that kind."""
    known = KINDS[kind or "micrometer"]
    return known.uncertainty if unit == known.unit else known.also.get(unit)


def guard_of(read: Characteristic) -> float:
    """Width of its guard band; 0 where it is decided by its limits alone."""
    uncertainty = uncertainty_of(read.gauge_kind, read.unit)
    return float(guard_band(uncertainty)) if read.guarded and uncertainty else 0.0


def with_gauges(site: SiteFile, cards: Sequence[RouteCard], today: date) -> SiteFile:
    """The site with its gauges, one of which is overdue, counted from that day."""
    gauges = (*_gauges(site, cards), *furnace_gauges(), OVERDUE)
    calibrations = tuple(
        Calibration(
            gauge=one.code,
            on=_day(today, -CALIBRATED_DAYS - 3 * place),
            due=_day(today, -3 if one is OVERDUE else DUE_DAYS + 4 * place),
            certificate=f"HRW-K-{1000 + place}",
        )
        for place, one in enumerate(gauges)
    )
    return replace(site, gauges=gauges, calibrations=calibrations, masters=MASTERS)


def _gauges(site: SiteFile, cards: Sequence[RouteCard]) -> Iterator[Gauge]:
    places: dict[str, tuple[str, list[str]]] = {}
    for kind, group in _kinds_read(cards):
        for station in site.stations:
            if station.group == group:
                stands = places.setdefault(gauge_at(kind, station.code), (kind, []))[1]
                if station.code not in stands:
                    stands.append(station.code)
    for code, (kind, stands) in sorted(places.items()):
        worth = KINDS[kind]
        yield Gauge(
            code=code,
            kind=kind,
            name=worth.name,
            unit=worth.unit,
            uncertainty=worth.uncertainty,
            resolution=worth.resolution,
            station=stands[0] if len(stands) == 1 else "",
            also=worth.also,
        )


def _kinds_read(cards: Sequence[RouteCard]) -> list[tuple[str, str]]:
    """Kind of gauge and station group, for all that is read anywhere."""
    return sorted(
        {
            (read.gauge_kind, step.station_group)
            for card in cards
            for step in card.steps
            for read in step.characteristics
            if read.gauge_kind
        }
    )


def _day(today: date, days: int) -> str:
    return (today + timedelta(days=days)).isoformat()


def shift_starts(shop: Shop, start_us: int, end_us: int) -> Iterator[int]:
    """When each manned shift of the week begins."""
    at_us = shop.hours.next_open(start_us)
    while at_us < end_us:
        yield at_us
        at_us = shop.hours.next_open(shop.hours.turn(at_us)[1])


def check_gauges(shop: Shop, turn: int) -> None:
    """A shift begins: its gauges are held to the master, and now and then one fails."""
    if not shop.counts.get("gauge studies"):
        shop.count("gauge studies")
        for study in STUDIES:
            _tell_study(shop, *study)
    for code, master in _checked(shop):
        if FAILS.get(turn) == code:
            fail_check(shop, code)
        else:
            _tell_check(shop, code, master, good=True)


def _tell_study(
    shop: Shop,
    gauge: str,
    what: str,
    unit: str,
    worth: tuple[float, float, float, float],
    limits: tuple[float, float],
) -> None:
    """Three people read ten parts twice, on the day the factory opened."""
    random = Random(f"study/{gauge}")  # noqa: S311 - a story, not a secret
    mean, of_parts, of_repeats, of_people = worth
    digit = KINDS["moment-scale" if unit == "g_mm" else "bore-gauge"].resolution
    parts = [random.gauss(mean, of_parts) for _ in range(STUDY_PARTS)]
    bias = [random.gauss(0.0, of_people) for _ in range(STUDY_PEOPLE)]
    readings = [
        [
            f"STUDY-{place + 1:02}",
            shop.first_of("inspector", who),
            round(round((true + bias[who] + random.gauss(0.0, of_repeats)) / digit) * digit, 6),
        ]
        for place, true in enumerate(parts)
        for who in range(STUDY_PEOPLE)
        for _ in range(STUDY_TURNS)
    ]
    shop.tell_of(
        "gauge", gauge, "gauge-studied", "quality-engineer",
        characteristic=what, unit=unit, readings=readings, lower=limits[0], upper=limits[1],
        note="when the factory opened",
    )  # fmt: skip


def _checked(shop: Shop) -> Iterator[tuple[str, Master]]:
    kinds = {"MOM": ("moment-scale", MASTERS[0]), "RNG": ("ring-test", MASTERS[1])}
    for code in sorted(shop.places):
        kind, master = kinds.get(code.partition("-")[0], ("", None))
        if master is not None:
            yield gauge_at(kind, code), master


def _tell_check(shop: Shop, code: str, master: Master, *, good: bool, note: str = "") -> None:
    if good:
        shop.checked_us[code] = shop.now
    # A die of its own: what the scale shows must not change what the factory does next.
    random = Random(f"{code}/{shop.now}")  # noqa: S311 - a story, not a secret
    off = random.gauss(0.0, 0.3) if good else random.choice((-1, 1)) * random.uniform(1.3, 2.1)
    digit = KINDS[master.gauge_kind].resolution
    value = round(round((master.value + off * master.allowed) / digit) * digit, 6)
    turn = shop.hours.turn(shop.now)[0]
    shop.tell_of(
        "gauge", code, "gauge-checked", shop.first_of("inspector", turn),
        master=master.code, value=value, expected=master.value, allowed=master.allowed,
        unit=master.unit, good=good, note=note or None,
    )  # fmt: skip


def fail_check(shop: Shop, code: str) -> None:
    """A gauge is found wrong: what it read since its last good check is suspect."""
    since_us = shop.checked_us.get(code, 0)
    found: dict[str, list[int]] = {}
    for gauge, serial, own, at_us in shop.taken:
        if gauge == code and since_us < at_us < shop.now:
            found.setdefault(serial, []).append(own)
    parts = [shop.parts[serial] for serial in found]
    if any(_leaves_now(part) for part in parts):
        # Its release is being signed this minute: the check waits until that is done.
        shop.later(shop.now + 20 * MINUTE_US, "fail check", code)
        return
    master = next(master for gauge, master in _checked(shop) if gauge == code)
    _tell_check(shop, code, master, good=False)
    number = shop.count("gauge doubts")
    why = f"gauge {code} failed its check on master {master.code}"
    for part in parts:
        who = "quality-engineer"
        shop.tell(
            part, "doubt", who, ref=0, readings=found[part.serial], gauge=code, reason=why
        )
        if part.state not in (DONE, SENT, SCRAP):
            shop.set_aside(part, f"G-{number}")
    shop.later(shop.now + 3 * MINUTE_US, "gauge put right", code)
    doubted = [[serial, numbers] for serial, numbers in found.items()]
    if doubted:
        at_us = shop.office.next_open(shop.now + TRUSTED_H * 60 * MINUTE_US)
        shop.later(at_us + 25 * MINUTE_US, "trust", number, doubted)


def _leaves_now(part: Part) -> bool:
    return part.state == WORK and part.step.number == part.card.last


def put_right(shop: Shop, code: str) -> None:
    """Cleaned and checked again, it is good."""
    master = next(master for gauge, master in _checked(shop) if gauge == code)
    _tell_check(shop, code, master, good=True, note="seat of the root cleaned")


def trust(shop: Shop, number: int, doubted: list[Any]) -> None:
    """Some of the blades were read again elsewhere and agree: all the readings stand."""
    reason = "three of them read again on the other scale: the same within its uncertainty"
    for serial, numbers in doubted:
        part = shop.parts.get(serial)
        if part is None:
            continue
        shop.tell(part, "trust", "quality-engineer", ref=0, readings=numbers, reason=reason)
        if f"G-{number}" in part.aside:
            shop.take_back(part, f"G-{number}")
