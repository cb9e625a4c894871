"""What happens at the stations: loads taken, work done, readings, what is found wrong.

Every station is a process: it waits for its group's bell, takes a load, works, and lets the
parts go.
"""

from __future__ import annotations

from collections.abc import Generator
from itertools import pairwise
from typing import Any, Final

from ringwright.core.calendar import HOUR_US, SECOND_US
from seed_demo import runs, swarf, walls
from seed_demo.faults import FAULTS
from seed_demo.finding import conclude, draw_fault, draw_risk
from seed_demo.furnaces import GROUP as FURNACES
from seed_demo.gauges import guard_of, uncertainty_of
from seed_demo.hours import Span
from seed_demo.plant import WORK, Job, Line, Part, Place
from seed_demo.readings import draw_reading, gauge_at
from seed_demo.shop import MINUTE_US, Shop

LONG_US: Final = 6 * HOUR_US
"""Work longer than this is handed over from crew to crew."""
SLIP_CHANCE: Final = 0.001
"""Of a reading that is typed wrong and corrected at once."""


def open_stations(shop: Shop) -> None:
    """Every station begins, or goes on with what it has in work."""
    for place in shop.places.values():
        shop.env.process(work_at(shop, place))


def work_at(shop: Shop, place: Place) -> Generator[Any, None, None]:
    """A station takes what waits, works on it, lets it go, and waits when there is nothing."""
    while True:
        if place.job is None and not _take(shop, place):
            yield place.group.bell
            continue
        job = place.job
        assert job is not None
        if job.done_us > shop.env.now:
            yield shop.env.timeout(job.done_us - shop.env.now)
        place.job = None
        _let_go(shop, place, job)


def _take(shop: Shop, place: Place) -> bool:
    """Put waiting parts on the station, those whose window runs first."""
    now, group = shop.env.now, place.group
    if place.free_at(now) > now or place.out or not any(line.parts for line in group.lines):
        return False
    closing = shop.hours.closing(now)
    least_us = runs.LOADING_US if group.name == FURNACES else 10 * MINUTE_US
    if closing - now < least_us or not shop.hours.is_open(now):
        return False
    ready = [line for line in group.lines if group.may_start(line, now, closing)]
    if not ready:
        return False
    line = min(ready, key=_first_served)
    load, line.parts = line.parts[: place.capacity], line.parts[place.capacity :]
    _begin(shop, place, line, load)
    return True


def _begin(shop: Shop, place: Place, line: Line, load: list[Part]) -> None:
    line.in_work += len(load)
    if place.group.name == FURNACES:
        runs.load_run(shop, place, load)
        return
    by = shop.crew(shop.hands(load[0]))
    step = line.step.number
    more: dict[str, Any] = {}
    if line.step.kind == "casting":
        more["lot"] = _mould_of(shop, place, load[0], step)
    for part in load:
        part.visits[step] = part.visits.get(step, 0) + 1
        part.actor, part.station, part.state = by, place.code, WORK
        shop.tell(part, "begin", by, step=step, station=place.code, **more)
    product = load[0].card.product
    place.job = Job(product, step, [part.serial for part in load], 0)
    if place.capacity > 1 or line.step.kind == "heat-cycle":
        _run(shop, place, load)
    else:
        _visit(shop, place, load[0])


def _mould_of(shop: Shop, place: Place, part: Part, step: int) -> str:
    """A mould is numbered when it is built; the cast uses the oldest one built."""
    if step == part.card.steps[2].number:
        return f"MLD-{shop.count('moulds'):04}"
    return f"HEAT-{place.code}-{shop.count('heats'):04}"


def _run(shop: Shop, place: Place, load: list[Part]) -> None:
    """A load runs through by itself; people take it out when they are there."""
    step, job = load[0].step, place.job
    assert job is not None
    done = shop.env.now + shop.hours_of(step.planned_hours, 0.04)
    opened = shop.hours.next_open(done)
    if opened > done:
        done = opened + shop.random.randrange(300, 2400) * SECOND_US
    job.done_us = done
    risk = draw_risk(shop)
    for part in load if risk else ():
        part.risk, part.cause = risk, step.number


def _visit(shop: Shop, place: Place, part: Part) -> None:
    """One part on one station, paused over breaks, shift changes and closed days."""
    job, step, since = place.job, part.step, shop.env.now
    assert job is not None
    spans = _cut(shop, since, shop.hours_of(step.planned_hours, 0.22))
    job.done_us = spans[-1][1]
    job.fault = draw_fault(shop, part)
    faults = FAULTS.get((part.card.product, step.number), ())
    bad = faults[job.fault].reads if job.fault >= 0 else ""
    for before, after in pairwise(spans):
        shop.tell(part, "pause", part.actor, before[1], step=step.number)
        late = shop.random.randrange(0, 480) * SECOND_US
        since = min(after[0] + late, after[1] - SECOND_US)
        part.actor = shop.crew(shop.hands(part), since)
        shop.tell(part, "resume", part.actor, since, step=step.number, station=place.code)
    if place.group.name == "moment-scale":
        part.scale = place.code
    _read(shop, place, part, since, bad)


def _read(shop: Shop, place: Place, part: Part, since: int, bad: str) -> None:
    """What is read during the visit, from `since` on; `bad` reads outside its limits."""
    assert place.job is not None
    step, done = part.step, place.job.done_us
    reads, least = step.characteristics, 0.0
    for turn, read in enumerate(reads, start=1):
        at_us = since + (done - since) * (turn + 2) // (len(reads) + 3)
        at_us -= at_us % SECOND_US
        value = draw_reading(shop.random, part.size, read, guard_of(read), bad == read.code)
        slip = round(value + (read.nominal or 1.0) / 10, read.decimals)
        typed = slip if slip != value and shop.random.random() < SLIP_CHANCE else value
        at_us = max(at_us, since)
        if read.role is not None:
            part.read[read.role] = value
        if read.code == walls.LEAST:
            least = value
        if read.unit == "kg":
            part.read[read.code] = value
        gauge = gauge_at(read.gauge_kind, place.code)
        shop.taken.append((gauge, part.serial, part.told, at_us))
        shop.tell(
            part, "measure", part.actor, at_us, step=step.number,
            characteristic=read.code, value=typed, unit=read.unit, station=place.code,
            gauge=gauge, uncertainty=uncertainty_of(read.gauge_kind, read.unit),
        )  # fmt: skip
        if typed != value:
            shop.tell(
                part, "correct", "supervisor", at_us + 15 * SECOND_US, ref=part.told - 1,
                fields={"value": value}, reason="typed wrong; read again",
            )  # fmt: skip
    walls.read_wall(shop, part, (since, done), least)


def _cut(shop: Shop, now: int, work_us: int) -> list[Span]:
    """The spans that the work takes, cut where a break falls or a crew changes."""
    spans = shop.hours.spans(now, work_us)
    if work_us > LONG_US:
        spans = [piece for span in spans for piece in _by_crew(shop, *span)]
    elif len(spans) == 1 and work_us > 20 * MINUTE_US and shop.random.random() < 0.03:
        half = now + work_us // 2 // SECOND_US * SECOND_US
        again = half + shop.random.randrange(600, 2400) * SECOND_US
        if again + work_us < shop.hours.closing(now):
            spans = [(now, half), (again, again + work_us - (half - now))]
    return spans


def _by_crew(shop: Shop, begin: int, finish: int) -> list[Span]:
    pieces: list[Span] = []
    while True:
        change = shop.hours.turn(begin)[1]
        if change >= finish - 30 * MINUTE_US:
            return [*pieces, (begin, finish)]
        pieces.append((begin, change))
        begin = change


def _let_go(shop: Shop, place: Place, job: Job) -> None:
    """The station is free again; its parts go where what was found sends them."""
    parts = [shop.parts[serial] for serial in job.serials]
    line = shop.lines[job.product, job.step]
    line.in_work -= len(parts)
    if job.run:
        runs.finish_run(shop, job.run)
        return
    alone = place.capacity == 1 and line.step.kind != "heat-cycle"
    by = parts[0].actor if alone else shop.crew("maker")
    for part in parts:
        part.actor = by
        swarf.collect(shop, part)
        conclude(shop, part, job.fault if alone else draw_fault(shop, part))


def _first_served(line: Line) -> tuple[bool, bool, int]:
    part = line.parts[0]
    return (line.may_wait, not part.raised, part.due_us)
