"""The history of the invented factory, told from a seed, week by week, as far as asked.

At the end of every week the factory is kept as plain text; the next week is told from that
text alone. So the story can be told on from any week without telling it all again.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from operator import attrgetter
from random import Random
from typing import Any, Final, NamedTuple

from ringwright.core.calendar import HOUR_US, week_before, week_of, week_window
from ringwright.routecards.card import RouteCard
from ringwright.sites.site import SiteFile
from seed_demo import (
    furnaces,
    gauges,
    handover,
    office,
    quality,
    runs,
    sets,
    swarf,
    waiting,
    walls,
)
from seed_demo.faults import OUTAGES, TROUBLE_EVERY, TROUBLE_WEEK
from seed_demo.office import BUSY, DAY_US
from seed_demo.plant import LINE, SCRAP, SENT, Job, demo_routes, demo_site, keep_part, part_from
from seed_demo.shop import MINUTE_US, Act, Shop
from seed_demo.stations import open_stations
from seed_demo.told import Told

STORY: Final = 7
"""Raised whenever the same seed would tell another story; an older store is left as it is."""
WEEKS_BEFORE: Final = 26
"""Whole weeks of history before the week in which the demo is first loaded."""
REMEMBERED_US: Final = 12 * DAY_US
"""How long a sent or scrapped part may still come into the story."""

ACTS: Final[dict[str, Act]] = {
    "start": office.start,
    "moved on": office.moved_on,
    "last end": office.last_end,
    "stopped": office.stopped,
    "sentence": office.sentence,
    "close": office.close,
    "pass": office.pass_it,
    "witness": office.witness,
    "send": office.send,
    "send one": office.send_one,
    "enter rotors": sets.enter_rotors,
    "reserve set": sets.reserve,
    "hand over set": sets.hand_over,
    "fit slot": sets.fit_slot,
    "right slots": sets.right_slots,
    "send set": sets.send_set,
    "question run": sets.question_run,
    "contain": quality.contain,
    "notice": quality.notice,
    "doubt": quality.doubt,
    "clear lot": quality.clear_lot,
    "clear": quality.clear,
    "question gauge": quality.question_gauge,
    "survey": quality.survey,
    "reopen": quality.reopen,
    "care": quality.care,
    "cared for": quality.cared_for,
    "hold": quality.hold,
    "lift": quality.lift,
    "seek": quality.seek,
    "find": quality.find,
    "raise": quality.raise_some,
    "correct release": quality.correct_release,
    "shut": quality.shut,
    "open": quality.open_again,
    "set wall plan": walls.set_wall_plan,
    "set furnaces": furnaces.set_furnaces,
    "revise recipe": furnaces.revise_recipe,
    "prove weekly": furnaces.prove_weekly,
    "make way": furnaces.make_way,
    "survey furnace": furnaces.survey,
    "furnace free": furnaces.free,
    "furnace mended": furnaces.mended,
    "age": furnaces.age,
    "doom": furnaces.doom,
    "start run": runs.start_run,
    "accept run": runs.accept_run,
    "sentence run": runs.sentence_run,
    "close run": runs.close_run,
    "furnace put right": runs.put_right,
    "register lot": swarf.register,
    "send swarf": swarf.send,
    "find mixed": swarf.find_mixed,
    "sentence mixed": swarf.sentence_mixed,
    "cleaned": waiting.cleaned,
    "window over": waiting.window_over,
    "sentence window": waiting.sentence_window,
    "hand over": handover.hand_over,
    "leave note": handover.leave_note,
    "take note": handover.take_note,
    "check gauges": gauges.check_gauges,
    "fail check": gauges.fail_check,
    "gauge put right": gauges.put_right,
    "trust": gauges.trust,
}

FAN, TURBINE = "HF22-BLADE", "PT68-BLADE"
WEEKLY: Final[tuple[tuple[float, int, str, tuple[Any, ...]], ...]] = (
    (8, 1, "raise", (FAN, 3)),
    (8.2, 1, "raise", (TURBINE, 4)),
    (9.5, 1, "seek", (TURBINE, 2865 * MINUTE_US)),
    (10, 2, "hold", (FAN,)),
    (37, 1, "send", ()),
    (40, 4, "question run", (66 * HOUR_US,)),
    (57, 1, "seek", (FAN, 3015 * MINUTE_US)),
    (57.5, 2, "hold", (TURBINE,)),
    (80, 1, "raise", (TURBINE, 4)),
    (80.2, 1, "raise", (FAN, 2)),
    (83, 2, "hold", (TURBINE,)),
    (85, 1, "send", ()),
    (107, 1, "seek", (TURBINE, 4245 * MINUTE_US)),
    (110, 1, "send", ()),
)
"""Hours after the week's start, the first week it happens (from 0), the act, what about."""


class Week(NamedTuple):
    """One week of the story, as far as it was told."""

    number: int
    begun: str
    """The factory as it was when the week began."""
    told: list[Told]
    whole: bool
    """False for the last week, which is told up to the instant asked for."""


def history_start(now_us: int, weeks: int = WEEKS_BEFORE) -> int:
    """The start of the site's week, as many weeks before the one that holds `now_us`."""
    site = demo_site()
    week = week_before(week_of(now_us, site.zone, site.week_starts), weeks)
    return week_window(week, site.zone, site.week_starts)[0]


def opening(start_us: int, shown_us: int = 0) -> str:
    """The factory on the day it opened; `shown_us`: when the demo is first loaded."""
    shown_us = shown_us or start_us + WEEKS_BEFORE * office.WEEK_US + 3 * DAY_US + 10 * HOUR_US
    return json.dumps({"index": 0, "now": start_us, "shown": shown_us})


def tell_weeks(seed: int, begun: str, until_us: int) -> Iterator[Week]:
    """The weeks from the one that begins as `begun` says, up to but not at `until_us`.

    The same seed and beginning tell the same, whatever `until_us` is: a later one only adds.
    """
    site, cards = demo_site(), demo_routes()
    while True:
        kept = json.loads(begun)
        start_us: int = kept["now"]
        if start_us >= until_us:
            return
        end_us = week_window(week_of(start_us, site.zone, site.week_starts), site.zone)[1]
        shop = _shop_from(site, cards, kept)
        shop.random = Random(f"{seed}/{kept['index']}")  # noqa: S311 - a story, not a secret
        shop.open()
        open_stations(shop)
        _plan(shop, kept["index"], start_us)
        swarf.plan(shop, start_us, end_us)
        furnaces.plan_furnaces(shop, kept["index"], start_us, end_us)
        for turn, at_us in enumerate(gauges.shift_starts(shop, start_us, end_us)):
            shop.later(at_us + MINUTE_US, "check gauges", turn)
            shop.later(at_us + MINUTE_US, "hand over", turn)
        stop_us = min(end_us, until_us)
        shop.env.run(until=stop_us)
        told = sorted(shop.told, key=attrgetter("at_us"))
        ahead = [one for one in told if one.at_us >= stop_us]
        told = told[: len(told) - len(ahead)]
        whole = end_us <= until_us
        yield Week(kept["index"], begun, told, whole)
        if not whole:
            return
        begun = _keep(shop, kept["index"] + 1, end_us, ahead)


def _plan(shop: Shop, index: int, start_us: int) -> None:
    """What people mean to do this week."""
    plan = shop.later

    def at(hours: float) -> int:
        return start_us + round(hours * 60) * MINUTE_US

    for hours, first, act, given in WEEKLY:
        if index >= first:
            plan(at(hours), act, *given)
    plan(at(33), "care", quality.SPARE[index % len(quality.SPARE)])
    if index == 0:
        plan(at(31), "enter rotors")
        plan(shop.hours.next_open(start_us) + 12 * MINUTE_US, "set wall plan")
        for product in shop.cards:
            plan(shop.hours.next_open(start_us), "start", product)
    else:
        plan(at(58), "doubt", (FAN, TURBINE)[index % 2])
    if index >= 3:
        plan(at(34.5), "correct release", start_us - 36 * HOUR_US, start_us + 6 * HOUR_US)
        plan(at(106), "question gauge", f"MOM-{1 + index % 2}")
    if index >= TROUBLE_WEEK:
        _trouble(shop, (index - TROUBLE_WEEK) % TROUBLE_EVERY, start_us)


def _trouble(shop: Shop, since: int, start_us: int) -> None:
    """The week in trouble, and the bad load in the week after it."""
    if since == 0:
        for name, hours, out_h in OUTAGES:
            shop.later(start_us + hours * HOUR_US, "survey", name, out_h * HOUR_US)
    elif since == 1:
        shop.counts["bad load"] = 1


def _keep(shop: Shop, index: int, end_us: int, ahead: list[Told]) -> str:
    """The factory as plain text."""
    forgotten = end_us - REMEMBERED_US
    parts = [
        part
        for part in shop.parts.values()
        if part.state not in (SENT, SCRAP) or part.gone_us >= forgotten or part.aside
    ]
    places = shop.places.values()
    kept = {
        "index": index,
        "now": end_us,
        "shown": shop.shown.shown_us,
        "parts": [keep_part(part) for part in parts],
        "stock": {name: [part.serial for part in held] for name, held in shop.stock.items()},
        "in_work": shop.in_work,
        "jobs": {
            place.code: [getattr(place.job, name) for name in Job.__slots__]
            for place in places
            if place.job
        },
        "out": [place.code for place in places if place.out],
        "shutting": [group.name for group in shop.groups.values() if group.shutting],
        "pending": [[number, *plan] for number, plan in shop.pending.items()],
        "counts": shop.counts,
        "doubted": shop.doubted,
        "carriers": shop.carriers,
        "sets": shop.sets,
        "runs": shop.runs,
        "furnaces": shop.states,
        "bins": shop.bins,
        "ahead": ahead,
    }
    return json.dumps(kept, separators=(",", ":"))


def _shop_from(site: SiteFile, cards: tuple[RouteCard, ...], kept: dict[str, Any]) -> Shop:
    """The factory as it was kept; the one that opens has nothing in it yet."""
    shop = Shop(site, cards, kept["now"], kept["shown"], ACTS)
    if kept["index"] == 0:
        shop.states = {code: furnaces.new_state() for code in furnaces.CODES}
        return shop
    _set_out(shop, kept)
    for code, job in kept["jobs"].items():
        shop.places[code].job = Job(*job)
        shop.lines[job[0], job[1]].in_work += len(job[2])
    for place in shop.places.values():
        place.out = place.code in kept["out"]
    for group in shop.groups.values():
        group.shutting = group.name in kept["shutting"]
    shop.pending = {
        number: (at_us, act, tuple(given)) for number, at_us, act, given in kept["pending"]
    }
    shop.in_work, shop.counts = kept["in_work"], kept["counts"]
    if shop.counts.get("kept back"):
        shop.one_is_kept_back()
    shop.doubted, shop.carriers = kept["doubted"], kept["carriers"]
    shop.sets = kept["sets"]
    shop.runs, shop.states = kept["runs"], kept["furnaces"]
    shop.bins = kept["bins"]
    shop.told = [Told(*one) for one in kept["ahead"]]
    return shop


def _set_out(shop: Shop, kept: dict[str, Any]) -> None:
    """Parts go where they were kept: before their station, on their trolley, in stock."""
    for one in kept["parts"]:
        part = part_from(one, shop.cards)
        shop.parts[part.serial] = part
        if part.state in BUSY:
            shop.trolleys.setdefault(part.trolley, []).append(part)
        if part.state == LINE:
            shop.line_of(part).join(part)
    for product, serials in kept["stock"].items():
        shop.stock[product] = [shop.parts[serial] for serial in serials]


def simulate(
    *, seed: int = 1, start_us: int, until_us: int, shown_us: int = 0
) -> Iterator[Told]:
    """The whole story from its first day, fact by fact in order of time."""
    for week in tell_weeks(seed, opening(start_us, shown_us), until_us):
        yield from week.told
