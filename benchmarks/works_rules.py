"""The ground rules of Fjellvik Spoke Works at work: more than in `store.py`, three products."""

from __future__ import annotations

from dataclasses import dataclass

CODE = "FJELLVIK"
STEPS = {
    10: ("Receive", "receipt", "stores", 2.0),
    20: ("Clean", "cleaning", "tanks", 2.0),
    30: ("Harden", "heat-cycle", "furnaces", 6.0),
    40: ("Look over", "inspection", "tables", 2.0),
    50: ("Mill", "machining", "mills", 2.0),
    60: ("Temper", "heat-cycle", "furnaces", 6.0),
    70: ("Grind", "machining", "grinders", 2.0),
    80: ("Gauge", "inspection", "tables", 2.0),
    90: ("Pack", "dispatch", "stores", 2.0),
}
"""Step number to its name, kind, group of stations and planned hours."""
LOADS = frozenset(number for number, step in STEPS.items() if step[1] == "heat-cycle")
MEASURED = frozenset({40, 70, 80})
CHECK, CARD, REPEAT = 80, "RW-1", (50, 70)
"""The step whose stops are sentenced, its rework card and what that repeats."""
STATIONS = {
    "stores": ("ST-1", "ST-2"),
    "tanks": ("TA-1", "TA-2"),
    "furnaces": ("FU-1", "FU-2", "FU-3"),
    "tables": ("TB-1", "TB-2", "TB-3", "TB-4"),
    "mills": ("MI-1", "MI-2", "MI-3", "MI-4"),
    "grinders": ("GR-1", "GR-2", "GR-3"),
}
PEOPLE = tuple(f"maker-{number}" for number in range(1, 11))
INSPECTORS = ("insp-1", "insp-2")
OFFICE = {"quality-1": "quality-engineer", "boss-1": "supervisor", "plan-1": "planner"}


@dataclass(frozen=True)
class Product:
    """A product and the steps it takes."""

    code: str
    family: str
    target: int
    steps: tuple[int, ...]


SPOKE = Product("SPOKE", "turbine-blade", 21, tuple(STEPS))
HUB = Product("HUB", "case", 7, tuple(STEPS))
WHEEL = Product("WHEEL", "fan-blade", 7, (10, 20, 50, 70, 80, 90))


def site_toml() -> str:
    """The site file: round the clock in three shifts."""
    head = f'[site]\ncode = "{CODE}"\nname = "Fjellvik Spoke Works"\nzone = "Europe/Oslo"\n'
    shifts = (("early", 6, 14), ("late", 14, 22), ("night", 22, 6))
    calendar = '[[calendar]]\ncode = "shop"\n' + "".join(
        f'[[calendar.shift]]\nname = "{name}"\ndays = ["mon-sun"]\n'
        f'start = "{start:02}:00"\nend = "{end:02}:00"\n'
        for name, start, end in shifts
    )
    stations = "".join(
        f'[[station]]\ncode = "{code}"\nname = "{code}"\ngroup = "{group}"\ncalendar = "shop"\n'
        for group, codes in STATIONS.items()
        for code in codes
    )
    roles = {
        **dict.fromkeys(PEOPLE, "maker"),
        **dict.fromkeys(INSPECTORS, "inspector"),
        **OFFICE,
    }
    people = "".join(
        f'[[person]]\ncode = "{code}"\nroles = ["{role}"]\n' for code, role in roles.items()
    )
    return head + calendar + stations + people


def route_toml(product: Product) -> str:
    """The route card of a product."""
    text = (
        f'[product]\ncode = "{product.code}"\nname = "{product.code.title()}"\n'
        f'family = "{product.family}"\ntarget_per_week = {product.target}\n'
    )
    return (
        text
        + "".join(_step(number) for number in product.steps)
        + (
            f'[[rework_card]]\ncode = "{CARD}"\nname = "Mill and grind again"\n'
            f"raised_at = {CHECK}\nrepeat = {list(REPEAT)}\n"
        )
    )


def _step(number: int) -> str:
    name, kind, group, hours = STEPS[number]
    text = (
        f'[[step]]\nnumber = {number}\nname = "{name}"\nkind = "{kind}"\n'
        f'station_group = "{group}"\nplanned_hours = {hours}\nqueue_hours = 30.0\n'
    )
    if number in LOADS:
        text += f"window = {{ after = {number - 10}, max_hours = 60.0 }}\n"
    if number in MEASURED:
        text += (
            '[[step.characteristic]]\ncode = "width"\nnominal = 10.0\nlower = 9.6\n'
            'upper = 10.4\nunit = "mm"\n'
        )
    return text
