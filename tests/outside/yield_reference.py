"""The yields worked out a second time, in pandas and networkx, from the events alone.

It imports nothing of the product. Intervals: statsmodels `proportion_confint(method="wilson")`.
Loads: connected components of the graph in which visits that overlap in time are joined.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations
from typing import Any

import networkx as nx
import numpy as np
import pandas as pd
from statsmodels.stats.proportion import proportion_confint

from tests.outside.reference import events_of, site_week, visits_of

AGAIN = ["rework", "repair"]


def share(part: int, n: int, loads: int | None = None) -> dict[str, Any]:
    """A proportion with Wilson's interval; by loads where their number is given."""
    if n == 0:
        return {"value": None, "low": None, "high": None, "n": 0}
    rests_on = n if loads is None else loads
    low, high = proportion_confint(part / n * rests_on, rests_on, alpha=0.05, method="wilson")
    return {"value": part / n, "low": low, "high": high, "n": n}


@dataclass
class Told:
    """Everything the shop told, as tables."""

    visits: pd.DataFrame
    lives: pd.DataFrame
    steps: list[int]
    in_loads: set[int]
    zone: str

    def kept(self, visits: Any = None, lives: Any = None) -> Told:
        """Only some visits and some parts."""
        own = self.visits if visits is None else self.visits[visits]
        parts = self.lives if lives is None else self.lives[lives]
        return Told(own, parts, self.steps, self.in_loads, self.zone)


def told(
    rows: list[dict[str, Any]],
    steps: list[int],
    in_loads: set[int],
    zone: str,
    before: datetime | None = None,
) -> Told:
    """Visits with their station, loads and lots; lives with creation, release and scrap."""
    events = events_of(rows, [], before)
    created = events[events.act == "create"].set_index("serial")
    visits = visits_of(events, created["at"])
    begins = events[events.act == "begin"].copy()
    begins["n"] = begins.groupby("serial").cumcount()
    visits = visits.merge(begins[["serial", "n", "station"]], on=["serial", "n"])
    visits["part_lot"] = created.lot.reindex(visits.serial).to_numpy()
    visits["load"] = _loads(visits, in_loads)
    good = visits[visits.outcome.isin(["pass", "concession"]) & (visits.step == steps[-1])]
    lives = pd.DataFrame({"created": created["at"], "lot": created.lot})
    lives["released"] = good.groupby("serial").at_end.last()
    lives["scrapped"] = visits[visits.outcome == "scrap"].groupby("serial").at_end.last()
    return Told(visits, lives.reset_index(), steps, in_loads, zone)


def _loads(visits: pd.DataFrame, in_loads: set[int]) -> pd.Series[Any]:
    """The load of each ended visit of a step worked in loads; -1 for others.

    Without a station only visits that began in the same instant are together.
    """
    found = pd.Series(-1, index=visits.index)
    ended = visits[visits.step.isin(in_loads) & visits.at_end.notna()]
    number = 0
    for (_, station), own in ended.groupby(["step", "station"]):
        graph = nx.Graph()
        graph.add_nodes_from(own.index)
        spans = list(zip(own.index, own.at_begin, own.at_end, strict=True))
        for (a, a0, a1), (b, b0, b1) in combinations(spans, 2):
            if a0 == b0 or (station != "" and a0 < b1 and b0 < a1):
                graph.add_edge(a, b)
        for members in nx.connected_components(graph):
            found[list(members)] = number
            number += 1
    return found


def _within(moments: Any, span: tuple[pd.Timestamp, pd.Timestamp]) -> Any:
    return (moments >= span[0]) & (moments < span[1])


def window(first: str, last: str, zone: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    """From the start of one site week to the end of another."""
    return site_week(first, zone)[0], site_week(last, zone)[1]


def numbers(shop: Told, span: tuple[pd.Timestamp, pd.Timestamp]) -> dict[str, Any]:
    """What the API should say of a window, less names and reasons."""
    ended = shop.visits[_within(shop.visits.at_end, span)]
    first_step = int((ended["first"] & (ended.step == shop.steps[0])).sum())
    steps = [_step(shop, ended[ended.step == number], number, first_step)
             for number in shop.steps]  # fmt: skip
    so_far: list[float] = []
    for row in steps:
        if row["first_pass_yield"]["value"] is not None:
            so_far.append(row["first_pass_yield"]["value"])
        row["rolled"] = float(np.prod(so_far)) if so_far else None
    return {
        "steps": steps,
        "rolled_throughput_yield": steps[-1]["rolled"],
        **_parts(shop, span),
    }


def _step(shop: Told, ended: pd.DataFrame, number: int, first_step: int) -> dict[str, Any]:
    firsts = ended[ended["first"]]
    loads = ended.load.nunique() if number in shop.in_loads else None
    first_loads = firsts.load.nunique() if number in shop.in_loads else None
    scraps = int((ended.outcome == "scrap").sum())
    passes = int((firsts.outcome == "pass").sum())
    return {
        "number": number, "visits": len(ended), "first_visits": len(firsts),
        "first_passes": passes, "first_pass_yield": share(passes, len(firsts), first_loads),
        "rework_ratio": share(int(ended.outcome.isin(AGAIN).sum()), len(ended), loads),
        "scrap_ratio": share(scraps, len(ended), loads),
        "fall_off_ratio": scraps / first_step if first_step else None,
    }  # fmt: skip


def _parts(shop: Told, span: tuple[pd.Timestamp, pd.Timestamp]) -> dict[str, Any]:
    lives = shop.lives
    released = int(_within(lives.released, span).sum())
    scrapped = int(_within(lives.scrapped, span).sum())
    cohort = lives[_within(lives.created, span)]
    out, bad = int(cohort.released.notna().sum()), int(cohort.scrapped.notna().sum())
    n = len(cohort)
    return {
        "final_yield": share(released, released + scrapped),
        "cohort": {
            "created": n, "released": out, "scrapped": bad, "open": n - out - bad,
            "floor": out / n if n else None, "ceiling": (n - bad) / n if n else None,
        },
    }  # fmt: skip


def groups(
    shop: Told, span: tuple[pd.Timestamp, pd.Timestamp], by: str
) -> dict[str, dict[str, Any]]:
    """Rolled and final yield, first visits and cohort of each group."""
    key_of = KEYS[by]
    ended = shop.visits[_within(shop.visits.at_end, span)]
    keys = key_of(shop, ended, "at_end")
    found: dict[str, dict[str, Any]] = {}
    for key in sorted(set(keys.dropna())):
        own = ended[keys == key]
        firsts = own[own["first"]]
        passed = firsts.assign(ok=firsts.outcome == "pass").groupby("step").ok.mean()
        found[key] = {
            "first_visits": len(firsts),
            "rolled_throughput_yield": float(passed.prod()) if len(passed) else None,
        }
    for key, row in found.items():
        row["final_yield"] = share(*_exits(shop, span, by, key))
    return found


def _exits(
    shop: Told, span: tuple[pd.Timestamp, pd.Timestamp], by: str, key: str
) -> tuple[int, int]:
    counts = []
    for moment in ("released", "scrapped"):
        lives = shop.lives[_within(shop.lives[moment], span)]
        if by == "station":
            been = set(shop.visits[shop.visits.station == key].serial)
            counts.append(int(lives.serial.isin(been).sum()))
        else:
            counts.append(int((KEYS[by](shop, lives, moment) == key).sum()))
    return counts[0], counts[0] + counts[1]


def shift_of(shop: Told, frame: pd.DataFrame, moment: str) -> pd.Series[Any]:
    """Early from 6, late from 14, night from 22, by the site's clock."""
    hour = frame[moment].dt.tz_convert(shop.zone).dt.hour
    names = np.select([(hour >= 6) & (hour < 14), (hour >= 14) & (hour < 22)],
                      ["early", "late"], "night")  # fmt: skip
    return pd.Series(names, index=frame.index)


def _lot(_shop: Told, frame: pd.DataFrame, _moment: str) -> pd.Series[Any]:
    return frame["part_lot"] if "part_lot" in frame else frame["lot"]


def _station(_shop: Told, frame: pd.DataFrame, _moment: str) -> pd.Series[Any]:
    return frame["station"]


KEYS: dict[str, Callable[[Told, pd.DataFrame, str], pd.Series[Any]]] = {
    "lot": _lot,
    "station": _station,
    "shift": shift_of,
}
