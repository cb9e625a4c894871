"""The story as tests read it: told once, looked at from many sides."""

from __future__ import annotations

from functools import cache

import pandas as pd

from ringwright.core.calendar import parse_instant
from seed_demo.plant import demo_routes
from seed_demo.story import history_start, simulate
from seed_demo.told import Told

NOW = parse_instant("2026-10-29T10:20:00+01:00")  # clocks went back four days before
START = history_start(NOW)
DAY_US = 86_400_000_000
WEEK_US = 7 * DAY_US
TARGETS = {"HF22-BLADE": 66, "HF22-CASE": 3, "PT68-BLADE": 204}
CARDS = {card.product: card for card in demo_routes()}
PRODUCT_OF = {"B": "HF22-BLADE", "C": "HF22-CASE", "T": "PT68-BLADE"}


@cache
def told(weeks: float, seed: int = 1, start_us: int = START) -> tuple[Told, ...]:
    """What happens in the first weeks of seven days."""
    until_us = start_us + round(weeks * 7) * DAY_US
    return tuple(simulate(seed=seed, start_us=start_us, until_us=until_us))


def parts_of(story: tuple[Told, ...]) -> list[Told]:
    """The facts of parts."""
    return [one for one in story if one.subject_kind == "part"]


def product_of(one: Told) -> str:
    """The product a part is, by the letter its serial begins with."""
    return PRODUCT_OF[one.subject[0]]


@cache
def frame(weeks: float) -> pd.DataFrame:
    """One row a part: when it came, when and how it left the flow [hours since the start]."""
    rows: dict[str, dict[str, object]] = {}
    for one in parts_of(told(weeks)):
        hour = (one.at_us - START) / 3.6e9
        row = rows.setdefault(one.subject, {"product": product_of(one)})
        if one.kind == "create":
            row["created"] = hour
        elif _releases(one):
            row["released"] = hour
        elif one.kind == "sentence" and one.data["decision"] == "scrap":
            row["scrapped"] = hour
        elif one.kind == "send":
            row["sent"] = hour
    columns = ["product", "created", "released", "scrapped", "sent"]
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns)


def _releases(one: Told) -> bool:
    last = CARDS[product_of(one)].last
    return one.kind == "end" and one.data["outcome"] == "pass" and one.data["step"] == last
