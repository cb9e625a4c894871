"""A second opinion on history rows, written from the rules alone and sharing no code with them.

It reads the route TOML with the standard library and walks the rows part by part.
"""

from __future__ import annotations

import tomllib
from collections import defaultdict
from datetime import datetime
from typing import Any

Row = dict[str, str]


class Walk:
    """Where one part stands while its rows are read."""

    def __init__(self) -> None:
        self.route: dict[int, dict[str, Any]] = {}
        self.awaited = self.open = 0
        self.back = self.held = self.paused = self.released = self.gone = False
        self.visits: dict[int, int] = defaultdict(int)
        self.ended: dict[int, datetime] = {}
        self.workers: set[str] = set()
        self.here: set[str] = set()


def read_route(text: str) -> tuple[str, dict[int, dict[str, Any]]]:
    """Product code, and step number to the step's table in the order of the route."""
    data = tomllib.loads(text)
    return data["product"]["code"], {step["number"]: step for step in data["step"]}


def judge(rows: list[Row], routes: dict[str, dict[int, dict[str, Any]]]) -> list[str]:
    """What is wrong with the rows, each as `key: why`; empty when they obey."""
    walks: dict[str, Walk] = {}
    wrong, keys, last = [], set(), None
    for row in rows:
        at = datetime.fromisoformat(row["at"])
        why = "offset missing" if at.tzinfo is None else ""
        why = why or ("out of order" if last is not None and at < last else "")
        why = why or ("key twice" if row["key"] in keys or not row["key"] else "")
        why = why or _walk(walks, row, at, routes)
        if why:
            wrong.append(f"{row['key']}: {row['serial']} {row['act']} {row['step']}: {why}")
        keys.add(row["key"])
        last = at
    return wrong


def _walk(walks: dict[str, Walk], row: Row, at: datetime, routes: Any) -> str:
    if row["act"] == "create":
        if row["serial"] in walks or row["step"]:
            return "created twice, or with a step"
        walk = walks[row["serial"]] = Walk()
        walk.route = routes[row["product"]]
        walk.awaited = next(iter(walk.route))
        return ""
    if row["serial"] not in walks or walks[row["serial"]].gone:
        return "not created, or gone"
    walk = walks[row["serial"]]
    if walk.route is not routes[row["product"]]:
        return "another product"
    if not row["step"].isdigit() or int(row["step"]) not in walk.route:
        return "no such step"
    return {
        "begin": _begin, "end": _end, "pause": _pause, "resume": _resume,
        "measure": _measure, "hold": _hold, "unhold": _hold, "send": _send,
    }[row["act"]](walk, row, at)  # fmt: skip


def _begin(walk: Walk, row: Row, at: datetime) -> str:
    step = int(row["step"])
    if walk.open or walk.held or walk.released:
        return "in work, held or released"
    if step != walk.awaited and not (walk.back and step < walk.awaited):
        return f"step {walk.awaited} is due"
    walk.open, walk.paused, walk.here = step, False, {row["by"]}
    walk.visits[step] += 1
    if walk.visits[step] > walk.route[step].get("max_visits", walk.visits[step]):
        return "more visits than allowed"
    if window := walk.route[step].get("window"):
        waited = (at - walk.ended[window["after"]]).total_seconds() / 3600
        if waited > window["max_hours"]:
            return f"begun {waited:.1f} h after step {window['after']}"
    return ""


def _end(walk: Walk, row: Row, at: datetime) -> str:
    step, outcome, hands = int(row["step"]), row["outcome"], walk.here | {row["by"]}
    inspection = walk.route[step]["kind"] == "inspection"
    if step != walk.open or walk.paused:
        return "no such open visit, or paused"
    numbers = list(walk.route)
    walk.back = outcome in ("rework", "repair")
    good = outcome in ("pass", "concession")
    if good and inspection and hands & walk.workers:
        return "passed by who worked on it"
    if not good and not row["defect"]:
        return "no defect named"
    if inspection:
        walk.workers -= walk.workers if good else set()
    else:
        walk.workers |= hands
    walk.open, walk.ended[step], walk.gone = 0, at, outcome == "scrap"
    if good and step == numbers[-1]:
        walk.released = True
        return "released while held" if walk.held else ""
    walk.awaited = numbers[numbers.index(step) + 1] if good else step
    return "" if good or walk.back or walk.gone else "unknown outcome"


def _pause(walk: Walk, row: Row, _at: datetime) -> str:
    if int(row["step"]) != walk.open or walk.paused:
        return "nothing to pause"
    walk.paused = True
    return ""


def _resume(walk: Walk, row: Row, _at: datetime) -> str:
    if int(row["step"]) != walk.open or not walk.paused or walk.held:
        return "nothing to resume, or held"
    walk.paused = False
    walk.here.add(row["by"])
    return ""


def _measure(walk: Walk, row: Row, _at: datetime) -> str:
    if int(row["step"]) != walk.open or walk.paused:
        return "a reading outside its visit"
    known = {c["code"]: c for c in walk.route[walk.open].get("characteristic", ())}
    read, places = known.get(row["characteristic"]), len(row["value"].partition(".")[2])
    if read is None or row["unit"] != read["unit"]:
        return "unknown characteristic or unit"
    return "" if places == read["decimals"] else "not in its decimals"


def _hold(walk: Walk, row: Row, _at: datetime) -> str:
    if walk.held is (row["act"] == "hold") or not row["reason"]:
        return "a second hold, an unhold of none, or no reason"
    walk.held = not walk.held
    return ""


def _send(walk: Walk, row: Row, _at: datetime) -> str:
    if not walk.released or walk.held or int(row["step"]) != list(walk.route)[-1]:
        return "sent before release, held, or from another step"
    walk.gone = True
    return ""
