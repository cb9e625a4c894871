"""The demo's story obeys the rules of the record, and its numbers hang together."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import datetime
from math import pi
from statistics import correlation, mean
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from ringwright.core.calendar import parse_instant
from ringwright.core.facts import Entry
from ringwright.material.rules import fold
from ringwright.parts.outline import outline_of
from seed_demo.judge import Judge
from seed_demo.plant import PRODUCTS, demo_routes, demo_site
from seed_demo.story import history_start
from seed_demo.told import Told
from tests.demo.referee import judge, read_card
from tests.demo.story import CARDS, DAY_US, START, TARGETS, frame, parts_of, product_of, told
from tests.demo.test_route_cards import text_of

OSLO = ZoneInfo("Europe/Oslo")
RULES = dict(read_card(text_of(code)) for code in PRODUCTS)
WEEKS = 10
OF_A_CONTAINER = (
    "container-opened", "swarf-added", "container-weighed", "container-sealed",
    "container-sent", "container-returned-as-lot",
)  # fmt: skip
MATERIAL = ("alloy", "lot", "swarf container", "mass of a part")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_referee_who_knows_only_the_rules_finds_nothing_wrong(seed: int) -> None:
    assert judge(told(7, seed), RULES) == []


@pytest.mark.slow
def test_nor_does_the_referee_in_the_weeks_of_trouble() -> None:
    assert judge(told(28), RULES) == []


def test_the_rules_of_the_record_accept_every_fact() -> None:
    Judge(demo_routes()).take(told(WEEKS))  # raises StoryRefused


def test_every_swarf_container_obeys_its_rules_and_holds_titanium() -> None:
    entries: dict[str, list[Entry]] = defaultdict(list)
    for number, one in enumerate(told(WEEKS)):
        if one.subject_kind == "swarf container":
            entries[one.subject].append(
                Entry(number, one.kind, one.at_us, one.at_us, one.actor, "", None, one.data)
            )
    containers = [fold(code, of) for code, of in entries.items()]  # raises Refused

    assert len(containers) > 10
    assert {one.alloy for one in containers} == {"TI64"}
    assert {"open", "sent"} <= {one.state for one in containers}
    cases = {line.serial for one in containers for line in one.lines}
    assert {serial[0] for serial in cases} == {"C"}


def test_every_lot_of_a_blade_is_permitted_for_rotating_parts() -> None:
    uses = {one.subject: one.data["lot"]["use"] for one in told(WEEKS) if one.kind == "lot-set"}
    made = [one for one in told(WEEKS) if one.kind == "create"]

    blades = {one.data["lot"] for one in made if product_of(one) != "HF22-CASE"}
    assert {uses[lot] for lot in blades if lot in uses} == {"rotating parts"}
    cases = {one.data["lot"] for one in made if product_of(one) == "HF22-CASE"}
    assert {uses[lot] for lot in cases} == {"static parts"}


@pytest.mark.parametrize(
    "kind",
    ["create", "begin", "resume", "end", "sentence", "clear", "run-opened", "part-loaded",
     "run-started", "run-finished", "run-judged", "run-accepted"],
)  # fmt: skip
def test_the_referee_misses_no_fact_that_is_taken_out(kind: str) -> None:
    # Swarf and lots are no matter of the referee, who looks at parts and runs.
    story = tuple(one for one in told(5) if one.subject_kind not in MATERIAL)
    since = 0 if kind == "create" else 20_000
    place = next(
        n
        for n, one in enumerate(story)
        if n > since and one.kind == kind and one.data.get("decision") != "scrap"
    )

    assert judge(story[:place] + story[place + 1 :], RULES)


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("measure", {"unit": "inch"}),
        ("measure", {"value": 1.23456}),
        ("measure", {"characteristic": "colour"}),
        ("begin", {"step": 140}),
        ("end", {"outcome": "scrap"}),
        ("sentence", {"decision": "repair", "document": ""}),
        ("contain", {"containment": "C-LOT-999"}),
        ("part-loaded", {"step": 60}),
        ("run-judged", {"judgement": {"verdict": "not met", "channels_failed": []}}),
    ],
)
def test_the_referee_misses_no_fact_that_is_changed(
    kind: str, change: dict[str, object]
) -> None:
    story = list(told(5))
    place = next(n for n, one in enumerate(story) if n > 20_000 and one.kind == kind)
    story[place] = story[place]._replace(data={**story[place].data, **change})

    assert judge(story, RULES)


def test_every_kind_of_fact_and_every_decision_is_in_the_story() -> None:
    kinds = {(one.subject_kind, one.kind) for one in told(WEEKS)}
    decisions = {one.data["decision"] for one in told(WEEKS) if one.kind == "sentence"}

    assert decisions == {"rework", "scrap", "withdrawn", "repair", "concession"}
    others = {("carrier", "carrier-move"), ("shutting", "shut"), ("shutting", "open")}
    others |= {("shift", "handover-noted"), ("shift", "handover-taken")}
    others |= {("gauge", "gauge-checked"), ("gauge", "gauge-studied")}
    others |= {("rotor", "rotor-set")} | {("set", kind) for kind in OF_A_SET}
    others |= {("furnace", kind) for kind in OF_A_FURNACE}
    others |= {("recipe", "recipe-revised")} | {("run", kind) for kind in OF_A_RUN}
    others |= {("alloy", "alloy-set"), ("lot", "lot-set"), ("mass of a part", "material-added")}
    others |= {("swarf container", kind) for kind in OF_A_CONTAINER}
    assert kinds == others | {
        ("part", kind)
        for kind in (
            "create", "begin", "pause", "resume", "end", "hold", "unhold", "measure", "send",
            "stop", "sentence", "correct", "witness", "move", "join", "remark", "prioritise",
            "seek", "find", "contain", "clear", "notice-sent",
            "reserve", "give-back", "fit", "return", "doubt", "trust",
        )
    }  # fmt: skip


def test_what_a_gauge_read_before_a_failed_check_is_doubted_and_nothing_else() -> None:
    """Counted from the facts alone: what each gauge read since its last check but one."""
    owed: dict[str, list[tuple[str, int]]] = {}
    own: dict[str, int] = {}
    doubted: list[tuple[str, int]] = []
    expected: list[tuple[str, int]] = []
    for one in told(WEEKS):
        if one.kind == "gauge-checked":
            read = owed.pop(one.subject, [])
            expected += [] if one.data["good"] else read
        elif one.subject_kind == "part":
            if one.kind == "measure":
                found = (one.subject, own.get(one.subject, 0))
                owed.setdefault(one.data["gauge"], []).append(found)
            elif one.kind == "doubt":
                doubted += [(one.subject, number) for number in one.data["readings"]]
            own[one.subject] = own.get(one.subject, 0) + 1

    assert len(expected) > 20
    assert sorted(doubted) == sorted(expected)


def test_the_share_of_a_rotor_is_a_part_of_what_its_grade_permits() -> None:
    rotors = [one.data["rotor"] for one in told(1) if one.kind == "rotor-set"]

    assert len(rotors) == 2
    for rotor in rotors:
        # ISO 21940-11: U_per = 1000 · G · m / Ω, in g·mm.
        omega = 2 * pi * rotor["speed_rpm"] / 60
        assert rotor["share_g_mm"] < 1000 * rotor["grade_mm_s"] * rotor["mass_kg"] / omega


def test_the_eight_roles_are_at_work() -> None:
    people = {person.code: person.roles[0] for person in demo_site().people}
    acting = {people[one.actor] for one in told(WEEKS)}

    assert acting == set(people.values()) - {"administrator"}  # who set up the site
    assert len(set(people.values())) == 8


def test_no_person_firm_or_place_is_named_but_the_invented_one() -> None:
    site, roles = demo_site(), {person.roles[0] for person in demo_site().people}

    assert site.name == "Holmfell Rotor Works"
    for person in site.people:
        assert person.code.rstrip("-0123456789") in roles


def test_another_seed_tells_another_story() -> None:
    pairs = zip(told(2), told(2, 2), strict=False)

    assert sum(a == b for a, b in pairs) < 100


@pytest.mark.parametrize("cut", ["2026-05-12T03:00:07+02:00", "2026-05-18T00:00:00+02:00"])
def test_told_on_later_the_story_begins_with_the_same_facts(cut: str) -> None:
    whole, until = told(5), parse_instant(cut)
    before = tuple(one for one in whole if one.at_us < until)

    shorter = told((until - START) / DAY_US / 7)
    exact = tuple(one for one in shorter if one.at_us < until)

    assert exact == before[: len(exact)]
    assert len(exact) > 0


@pytest.mark.parametrize(
    "now",
    ["2026-11-25T15:00:00+01:00", "2026-03-29T23:59:59+02:00", "2027-01-04T00:00:00+01:00"],
)
def test_history_starts_on_the_monday_twenty_six_whole_weeks_before(now: str) -> None:
    then = datetime.fromtimestamp(history_start(parse_instant(now)) / 1e6, OSLO)
    gone = datetime.fromisoformat(now).replace(tzinfo=None) - then.replace(tzinfo=None)

    assert (then.weekday(), then.hour, then.minute) == (0, 0, 0)
    assert 26 * 7 <= gone.days < 27 * 7


@pytest.mark.parametrize(
    ("product", "low", "high"),
    [("HF22-BLADE", 0.92, 1.12), ("HF22-CASE", 0.8, 1.25), ("PT68-BLADE", 0.92, 1.12)],
)
def test_output_is_near_the_target_once_the_shop_is_full(
    product: str, low: float, high: float
) -> None:
    weekly = outputs(WEEKS, product)[3:WEEKS]

    assert CARDS[product].target_per_week == TARGETS[product]
    assert low * TARGETS[product] <= mean(weekly) <= high * TARGETS[product]


@pytest.mark.slow
def test_one_week_is_in_trouble_and_the_next_one_catches_up() -> None:
    for product in ("HF22-BLADE", "PT68-BLADE"):
        weekly = outputs(28, product)

        assert weekly[24] == min(weekly[5:27])  # a day of the fifth week was a holiday
        assert weekly[24] < 0.85 * TARGETS[product]
        assert weekly[25] > TARGETS[product]


def outputs(weeks: int, product: str) -> list[int]:
    parts = frame(weeks)
    released = parts[(parts["product"] == product) & parts["released"].notna()]["released"]
    per_week = (released // 168).astype(int).value_counts()
    return [int(per_week.get(week, 0)) for week in range(weeks)]


def test_what_came_in_went_out_or_is_still_there() -> None:
    parts = frame(WEEKS)
    out = parts["released"].notna() | parts["scrapped"].notna()

    assert parts["created"].notna().all()
    assert not (parts["released"].notna() & parts["scrapped"].notna()).any()
    assert parts.loc[parts["sent"].notna(), "released"].notna().all()
    assert (parts["sent"].dropna() > parts["released"][parts["sent"].notna()]).all()
    assert 300 < len(parts) - out.sum() < 800  # some days' work


@pytest.mark.parametrize("product", PRODUCTS)
def test_littles_law_holds_over_a_long_window(product: str) -> None:
    """L = lambda W: J. D. C. Little, Operations Research 9 (1961) 383-387.

    Over a window from a to b the law is exact with two edge terms: the time that exits had
    spent before a comes off, the time of parts still there at b since a (or since they were
    created) is added. Without them it holds only roughly, better the longer the window.
    """
    parts, a, b = frame(WEEKS), 3 * 168.0, WEEKS * 168.0
    parts = parts[parts["product"] == product]
    born, out = parts["created"], parts["released"].fillna(parts["scrapped"])
    exits = (out >= a) & (out < b)
    rate, stay = exits.sum() / (b - a), (out - born)[exits].mean()

    there = out.fillna(b).clip(a, b) - born.clip(a, b)
    level = there.sum() / (b - a)
    before = (a - born[exits]).clip(lower=0).sum()
    still = (b - born[~(out < b)].clip(lower=a)).sum()

    assert level == pytest.approx(rate * stay + (still - before) / (b - a), rel=1e-9)
    assert level == pytest.approx(rate * stay, rel=0.15 if product == "HF22-CASE" else 0.1)


def test_no_station_holds_more_than_fits_and_none_works_while_shut() -> None:
    fits = {station.code: station.capacity for station in demo_site().stations}
    there: dict[str, set[str]] = defaultdict(set)
    shut: set[str] = set()
    for one in told(WEEKS):
        if one.subject_kind == "shutting":
            (shut.add if one.kind == "shut" else shut.discard)(one.subject)
        elif one.kind == "begin":
            there[one.station].add(one.subject)
            assert len(there[one.station]) <= fits[one.station], one
            assert f"station:{one.station}" not in shut, one
        elif one.kind in ("run-finished", "run-aborted"):  # all of it is taken out
            there[one.subject[:5]].clear()
        elif one.kind in ("end", "stop"):  # a stopped part is carried off to the cage
            for parts in there.values():
                parts.discard(one.subject)


def test_nobody_begins_anything_while_the_site_is_closed() -> None:
    for one in told(WEEKS):
        if one.kind in ("begin", "resume", "create"):
            at = datetime.fromtimestamp(one.at_us / 1e6, OSLO)
            since_monday_06 = at.weekday() * 24 + at.hour - 6
            assert 0 <= since_monday_06 < 126, one  # to Saturday 12:00


def test_readings_lie_inside_their_limits_but_for_the_few_found_bad() -> None:
    outside = total = 0
    for one in parts_of(told(WEEKS)):
        if one.kind == "measure":
            step = CARDS[product_of(one)].by_number[one.data["step"]]
            read = step.characteristic(one.data["characteristic"])
            assert read is not None
            outside += not read.inside(one.data["value"])
            total += 1

    assert 0.001 < outside / total < 0.03


def test_a_heavy_fan_blade_has_a_large_mass_moment() -> None:
    reads: dict[str, dict[str, float]] = {"mass": {}, "moment": {}}
    for one in parts_of(told(WEEKS)):
        read = one.data.get("characteristic")
        if one.kind == "correct" and "value" in one.data["fields"]:
            for read_before in reads.values():
                read_before.pop(one.subject, None)
        elif one.kind == "measure" and product_of(one) == "HF22-BLADE" and read in reads:
            reads[read][one.subject] = one.data["value"]
    both = sorted(reads["mass"].keys() & reads["moment"].keys())

    moments = [reads["moment"][serial] for serial in both]

    assert mean(moments) == pytest.approx(1_630_000, rel=0.002)
    assert correlation([reads["mass"][serial] for serial in both], moments) > 0.5


def test_defects_are_found_elsewhere_than_they_were_caused_at_zones_of_the_part() -> None:
    stops: dict[str, Told] = {}
    elsewhere = total = 0
    for one in parts_of(told(WEEKS)):
        if one.kind == "stop":
            stops[one.subject] = one
            place = one.data.get("place_on_part")
            outline = outline_of(CARDS[product_of(one)].family)
            assert place is None or outline.zone_of(place), place
        elif one.kind == "sentence" and "caused_step" in one.data:
            found, caused = stops[one.subject].data["step"], one.data["caused_step"]
            assert caused <= found
            elsewhere, total = elsewhere + (caused < found), total + 1

    assert elsewhere > total / 2


def test_loads_are_begun_together_and_taken_out_together() -> None:
    loads: dict[tuple[str, int], list[str]] = defaultdict(list)
    for one in parts_of(told(WEEKS)):
        if one.kind == "begin" and one.station.startswith(("INF", "BND", "CRY", "SHL")):
            loads[one.station, one.at_us].append(one.subject)
    sizes = Counter(map(len, loads.values()))

    assert sum(size * n for size, n in sizes.items()) / sum(sizes.values()) > 3


@pytest.mark.parametrize("day", [0.3, 1.5, 2.4, 3.3, 4.6, 5.5, 6.7])
def test_on_any_day_of_the_week_something_true_stands_to_show(day: float) -> None:
    now = START + round((35 + day) * DAY_US)
    story = tuple(one for one in told(7) if one.at_us < now)
    shown = standing(story)

    assert now - story[-1].at_us < 3 * DAY_US
    assert 1 <= len(shown["search"]) <= 2  # the next begins a little before
    assert shown["shut"]
    assert shown["contained"]
    assert len(shown["raised"]) >= 3
    assert shown["furnace"]
    assert shown["stock HF22-BLADE"] >= 3 * 22
    assert shown["stock PT68-BLADE"] >= 2 * 68


OF_A_SET = ("reserve", "mend", "give-back", "hand-over", "fit", "return", "send")
OF_A_FURNACE = ("furnace-set", "furnace-proved", "thermocouple-renewed")
OF_A_RUN = (
    "run-opened", "part-loaded", "run-started", "readings-kept", "run-finished", "run-judged",
    "run-accepted", "run-aborted", "run-closed",
)  # fmt: skip
TURNED = {"seek": "search", "find": "search", "shut": "shut", "open": "shut"}


def standing(story: tuple[Told, ...]) -> dict[str, Any]:
    """What is open at the end of the story."""
    open_: dict[str, set[object]] = defaultdict(set)
    stock: Counter[str] = Counter()
    for one in story:
        if one.kind in ("contain", "clear"):
            open_["contained"] ^= {(one.subject, one.data["containment"])}
        elif one.kind in (*TURNED, "prioritise"):
            open_[TURNED.get(one.kind, "raised")] ^= {one.subject}
        elif one.kind == "begin" and one.station[:3] in ("INF", "VAC", "BND", "CRY"):
            open_["furnace"].add(one.subject)
        elif one.kind == "end":
            open_["furnace"].discard(one.subject)
            released = one.data["step"] == CARDS[product_of(one)].last
            stock[f"stock {product_of(one)}"] += released
        elif one.kind == "send" and one.subject_kind == "part":
            stock[f"stock {product_of(one)}"] -= 1
    return {**open_, **stock}


@pytest.mark.parametrize("product", PRODUCTS)
def test_parts_are_at_work_at_every_step(product: str) -> None:
    at: dict[str, int] = {}
    for one in parts_of(told(WEEKS)):
        if product_of(one) != product:
            continue
        if one.kind == "create":
            at[one.subject] = CARDS[product].first
        elif one.kind == "begin":
            at[one.subject] = one.data["step"]
        elif one.kind == "end" and one.data["outcome"] == "pass":
            at[one.subject] = CARDS[product].after(one.data["step"]) or 0
        elif one.kind == "sentence" and one.data["decision"] == "scrap":
            at[one.subject] = 0
    there = set(at.values()) - {0}

    missing = set(CARDS[product].order) - there
    assert len(missing) <= (6 if product == "HF22-CASE" else 1), missing


@pytest.mark.slow
def test_after_the_trouble_one_load_is_lost_found_at_one_step_and_caused_at_another() -> None:
    since = START + 25 * 7 * DAY_US
    loads: dict[str, int] = {}
    lost: Counter[int] = Counter()
    for one in parts_of(told(28)):
        if one.kind == "begin" and one.station.startswith("INF"):
            loads[one.subject] = one.at_us
        elif one.kind == "sentence" and one.data.get("caused_step") == 70:
            begun = loads.get(one.subject, 0)  # step 70 of a turbine blade is another furnace
            lost[begun] += one.data["decision"] == "scrap" and begun >= since

    assert max(lost.values()) >= 2
