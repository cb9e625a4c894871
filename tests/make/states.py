"""A works in which everything has happened that a page can show, for looking at every page."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from ringwright.assembly import SYSTEM
from ringwright.bench.acts import Stop
from ringwright.bench.correcting import Correct
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import Clock, FixedClock
from ringwright.core.instants import parse_instant
from ringwright.floor.service import MoveMany, Prioritise, Seek, ShutIt
from ringwright.flow.publishing import PublishWeek, numbers_digest
from ringwright.flow.service import read_week_numbers
from ringwright.ledger.service import Command, Ledger
from ringwright.ledger.transaction import Actor
from ringwright.paper.service import MakePack
from ringwright.parts.queries import read_events
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.trace.question import Question
from ringwright.trace.service import Contain, plans_of
from ringwright.trace.touched import read_touched
from tests.make import furnaces, machining, swarf
from tests.make.films import attach_film
from tests.make.gauges import small_study
from tests.make.kept import opened
from tests.make.second import signed

CODE = "VIK"
STUDY = 1
"""The number of its one gauge study."""
NOW = "2026-10-01T12:00:00+02:00"
PEOPLE = (
    ("make-1", "maker"),
    ("insp-1", "inspector"),
    ("plan-1", "planner"),
    ("qe-1", "quality-engineer"),
    ("man-1", "manager"),
)
SITE = """
[site]
code = "VIK"
name = "Vik Rotor Works"
zone = "Europe/Oslo"
[[calendar]]
code = "shop"
[[calendar.shift]]
days = ["mon-fri"]
start = "06:00"
end = "22:00"
name = "day"
[[gauge]]
code = "CMM-1"
kind = "cmm"
unit = "mm"
uncertainty = 0.004
calibrated = "2026-03-01"
due = "2026-08-31"
[[master]]
code = "MB-1"
gauge_kind = "cmm"
unit = "mm"
value = 25
allowed = 0.01
[[station]]
code = "W1"
name = "Wash 1"
group = "wash"
calendar = "shop"
[[station]]
code = "F1"
name = "Furnace 1"
group = "furnace"
calendar = "shop"
capacity = 4
[[station]]
code = "B4"
name = "Bench 4"
group = "bench"
calendar = "shop"
[[person]]
code = "sup-1"
roles = ["supervisor", "inspector", "quality-engineer", "manager", "administrator"]
""" + "".join(f'[[person]]\ncode = "{code}"\nroles = ["{role}"]\n' for code, role in PEOPLE)
BLADE = """
[product]
code = "BLADE"
name = "Hollow blade"
family = "fan-blade"
target_per_week = 12
set_size = 4
[[step]]
number = 10
name = "Clean"
kind = "cleaning"
station_group = "wash"
planned_hours = 0.5
queue_hours = 4.0
[[step]]
number = 20
name = "Inflate"
kind = "heat-cycle"
station_group = "furnace"
planned_hours = 2.0
queue_hours = 4.0
[step.window]
after = 10
max_hours = 8.0
[[step]]
number = 30
name = "Wall check"
kind = "inspection"
station_group = "bench"
planned_hours = 0.5
queue_hours = 2.0
max_visits = 3
[[step.characteristic]]
code = "wall"
nominal = 1.5
lower = 1.0
upper = 2.0
unit = "mm"
decimals = 2
gauge_kind = "ultrasonic"
[[step.characteristic]]
code = "twist"
lower = 1.0
upper = 2.0
unit = "deg"
decimals = 1
[[step]]
number = 40
name = "Release"
kind = "dispatch"
planned_hours = 0.1
queue_hours = 1.0
[[rework_card]]
code = "R1"
name = "Clean and inflate again"
raised_at = 30
repeat = [10, 20]
"""
CASE = """
[product]
code = "CASE"
name = "Ring case"
family = "case"
target_per_week = 2
[[step]]
number = 10
name = "Turn"
kind = "machining"
planned_hours = 3.0
queue_hours = 6.0
[[step]]
number = 20
name = "Weigh"
kind = "inspection"
planned_hours = 0.5
queue_hours = 2.0
"""
COLUMNS = (
    "at", "serial", "product", "act", "step", "outcome", "defect", "characteristic", "value",
    "unit", "lot", "station", "by", "reason", "gauge",
)  # fmt: skip
DAYS = ("09-14", "09-15", "09-16", "09-21", "09-22", "09-23", "09-24", "09-28", "09-29")
WAITING_CASES = 230
"""More than a list shows at once, so that every list can be seen cut."""
SUPERVISOR = Actor(
    code="sup-1", roles=frozenset({"supervisor", "inspector", "quality-engineer"})
)
PLANNER = Actor(code="plan-1", roles=frozenset({"planner"}))


def line(at: str, serial: str, act: str, **given: object) -> str:
    """One row of a history, in the order of its heading."""
    product = "CASE" if serial.startswith("C") else "BLADE"
    row = {"at": f"2026-{at}+02:00", "serial": serial, "act": act, "product": product, **given}
    return ",".join(str(row.get(name, "")) for name in COLUMNS) + "\n"


def blade(serial: str, day: str, until: str = "released", lot: str = "L-1") -> str:
    """A blade cleaned, inflated with others of its day, and checked as far as it got."""
    at = {"station": "B4", "by": "insp-1"}
    rows = [
        line(f"{day}T06:30", serial, "create", lot=lot),
        line(f"{day}T07:00", serial, "begin", step=10, station="W1", by="make-1"),
        line(f"{day}T07:30", serial, "end", step=10, outcome="pass", station="W1", by="make-1"),
        line(f"{day}T08:00", serial, "begin", step=20, station="F1", by="make-1"),
        line(f"{day}T10:00", serial, "end", step=20, outcome="pass", station="F1", by="make-1"),
        line(f"{day}T10:20", serial, "begin", step=30, **at),
    ]
    for code, value, unit in (("wall", 1.4, "mm"), ("twist", 1.6, "deg")):
        given = {"characteristic": code, "value": value, "unit": unit, "gauge": "UT-7"}
        rows.append(line(f"{day}T10:30", serial, "measure", step=30, **given, **at))
    if until == "scrap":
        rows.append(
            line(f"{day}T10:40", serial, "end", step=30, outcome="scrap", defect="thin wall")
        )
        return "".join(rows)
    rows.append(line(f"{day}T10:40", serial, "end", step=30, outcome="pass", **at))
    rows.append(line(f"{day}T11:00", serial, "begin", step=40))
    rows.append(line(f"{day}T11:05", serial, "end", step=40, outcome="pass"))
    if until == "sent":
        rows.append(line(f"{day}T15:00", serial, "send", step=40))
    return "".join(rows)


def unfinished() -> str:
    """Blades still in the cell: waiting, in a load, under the window, held, on the bench."""
    rows = []
    for number in range(1, 10):
        serial = f"B-9{number:02}"
        rows.append(line("10-01T06:10", serial, "create", lot="L-3"))
        if number > 2:
            rows.append(line("10-01T06:20", serial, "begin", step=10, station="W1"))
            rows.append(line("10-01T06:50", serial, "end", step=10, outcome="pass"))
        if number > 5:
            rows.append(line("10-01T09:00", serial, "begin", step=20, station="F1"))
        if number > 7:
            rows.append(line("10-01T11:00", serial, "end", step=20, outcome="pass"))
    rows.append(line("10-01T11:10", "B-901", "hold", reason="wrong certificate"))
    rows.append(line("10-01T11:30", "B-909", "begin", step=30, station="B4", by="insp-1"))
    cases = (f"C-{number:03}" for number in range(WAITING_CASES))
    rows.extend(line("09-30T07:00", serial, "create", lot="L-9") for serial in cases)
    return "".join(rows)


def story() -> str:
    """Three weeks of blades, some scrapped, some sent, and what is still in the cell."""
    fates = ("released", "sent", "released", "scrap", "released", "released")
    rows = [",".join(COLUMNS) + "\n"]
    numbers = count(1)
    for place, day in enumerate(DAYS):
        for turn in range(4):
            number = next(numbers)
            fate = fates[(number + turn) % len(fates)]
            rows.append(blade(f"B-{number:03}", day, fate, f"L-{1 + place // 5}"))
    return "".join(rows) + unfinished()


def open_states(url: str, clock: Clock | None = None) -> Ledger:
    """The record with everything in it, at noon of Thursday 1 October 2026."""
    return opened(url, clock or FixedClock(parse_instant(NOW)), _told)


def _told(ledger: Ledger) -> None:
    _begin(ledger)
    tell_states(ledger)


def tell_states(ledger: Ledger) -> None:
    """Everything that happened, into a site that has its people and nothing else."""
    for text in (BLADE, CASE):
        ledger.execute(CODE, LoadRoute(card=parse_route(text, "route")), SYSTEM)
    ledger.execute(CODE, LoadHistory(rows=read_csv(story())), SYSTEM)
    _act(ledger)


def open_empty(url: str, clock: Clock | None = None) -> Ledger:
    """The site and its people: no product, no part, nothing booked."""
    return opened(url, clock or FixedClock(parse_instant(NOW)), _begin)


def _begin(ledger: Ledger) -> None:
    ledger.open_site(CODE)
    ledger.execute(CODE, ExtendSite(file=parse_site(SITE, "site")), SYSTEM)


def _act(ledger: Ledger) -> None:
    """What people did today beside passing parts."""
    keys = (f"key-{number}" for number in count(1))
    lot, again = Question(kind="lot", value="L-1"), "booked twice"
    with ledger.read(CODE) as read:
        seen = numbers_digest(read_week_numbers(read, "BLADE", "2026-W39"))
        plans = plans_of(read_touched(read, lot))
        entry = read_events(read, "B-036")[-2].site_seq
    commands: tuple[tuple[Command, Actor], ...] = (
        (PublishWeek(product="BLADE", week="2026-W39", seen=seen, key=next(keys)), SUPERVISOR),
        (
            Contain(key=next(keys), reason="survey failed", question=lot, plans=plans),
            SUPERVISOR,
        ),
        (Stop(serial="B-909", key=next(keys), defect="dent", place_on_part="tip"), SUPERVISOR),
        (
            Correct(serial="B-036", key=next(keys), entry=entry, reason=again, void=True),
            signed(SUPERVISOR, "qe-2", "quality-engineer"),
        ),
    )
    studied = (small_study("CMM-1", "wall", "mm"), SUPERVISOR)
    packed = (MakePack(group="furnace", key=next(keys)), SUPERVISOR)
    heated = furnaces.commands(next(keys))
    turned = machining.commands(next(keys))
    for command, who in (*commands, *_on_the_floor(), studied, packed, *heated, *turned):
        ledger.execute(CODE, command, who)
    attach_film(ledger, CODE, "B-901")
    swarf.sample(ledger, CODE)


def _on_the_floor() -> Iterator[tuple[Command, Actor]]:
    """A trolley with a blade on it, a search, a blade that goes first, a shut furnace."""
    keys = (f"floor-{number}" for number in count(1))
    yield MoveMany(parts=("B-908",), carriers=(), to="TR-1", key=next(keys)), SUPERVISOR
    yield MoveMany(parts=(), carriers=("TR-1",), to="BAY-2", key=next(keys)), SUPERVISOR
    yield Seek(serial="B-902", key=next(keys), reason="not on the rack"), SUPERVISOR
    yield Prioritise(serial="B-903", key=next(keys), rank=1, reason="customer waits"), PLANNER
    drift = {"reason": "thermocouple drifts", "opener": "supervisor"}
    yield ShutIt(kind="station", code="F1", key=next(keys), **drift), SUPERVISOR
    yield ShutIt(kind="lot", code="L-9", key=next(keys), **drift), SUPERVISOR
