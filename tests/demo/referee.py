"""A second opinion on the story, written from the rules alone and sharing no code with them.

It reads the route TOML with the standard library and walks the facts part by part.
"""

from __future__ import annotations

import tomllib
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from seed_demo.told import Told
from tests.demo.run_referee import Runs

HOUR_US = 3_600_000_000
FREE = frozenset(
    {
        "move",
        "join",
        "remark",
        "correct",
        "prioritise",
        "seek",
        "find",
        "contain",
        "clear",
        "doubt",
        "trust",
    }
)
"""Facts that move no part along its route."""


GAUGED = ("doubt", "trust")


class Walk:
    """Where one part stands while its facts are read."""

    def __init__(self, card: dict[str, Any]) -> None:
        self.route = {step["number"]: step for step in card["step"]}
        self.cards = {one["code"]: one for one in card["rework_card"]}
        self.awaited, self.open = next(iter(self.route)), 0
        self.back = self.paused = self.released = self.scrapped = self.sent = False
        self.stopped = self.held = False
        self.kept, self.slot, self.run = "", 0, ""
        self.suspect: set[int] = set()
        self.contained: set[str] = set()
        self.todo: list[int] = []
        self.visits: dict[int, int] = defaultdict(int)
        self.ended: dict[int, int] = {}
        self.workers: set[str] = set()
        self.here: set[str] = set()


def judge(told: Iterable[Told], cards: dict[str, Any]) -> list[str]:
    """What is wrong with the story, each as `serial kind: why`; empty when it obeys."""
    walks: dict[str, Walk] = {}
    runs = Runs(walks)
    wrong, last = [], 0
    for one in told:
        why = "out of order" if one.at_us < last else ""
        last = one.at_us
        if one.subject_kind == "part":
            why = why or _walk(walks, one, cards) or runs.part(one)
        elif one.subject_kind == "run":
            why = why or runs.run(one)
        if why:
            wrong.append(f"{one.subject} {one.kind} {one.data}: {why}")
    return wrong


def read_card(text: str) -> tuple[str, dict[str, Any]]:
    """Product code and the route card as the TOML has it."""
    data = tomllib.loads(text)
    return data["product"]["code"], data


def _walk(walks: dict[str, Walk], one: Told, cards: dict[str, Any]) -> str:
    if one.kind == "create":
        if one.subject in walks:
            return "created twice"
        walks[one.subject] = Walk(cards[one.data["product"]])
        return ""
    walk = walks.get(one.subject)
    if walk is None:
        return "not created"
    if walk.scrapped and one.kind not in ("witness", "move", "contain", "clear", *GAUGED):
        return "scrapped"
    if walk.sent and one.kind not in ("contain", "clear", "notice-sent", *GAUGED):
        return "sent"
    if one.kind in ("contain", "clear"):
        return _contain(walk, one)
    if one.kind in FREE:
        return ""
    return {
        "begin": _begin, "end": _end, "pause": _pause, "resume": _resume,
        "measure": _measure, "hold": _hold, "unhold": _hold, "send": _send, "stop": _stop,
        "sentence": _sentence, "witness": _witness, "notice-sent": _notice,
        "reserve": _reserve, "give-back": _give_back, "fit": _fit, "return": _return,
        "doubt": _gauged, "trust": _gauged,
    }[one.kind](walk, one)  # fmt: skip


def _gauged(walk: Walk, one: Told) -> str:
    if one.kind == "doubt":
        walk.suspect.update(one.data["readings"])
        return ""
    trusted = set(one.data["readings"])
    if not trusted <= walk.suspect:
        return "what was not doubted is trusted"
    walk.suspect -= trusted
    return ""


def _begin(walk: Walk, one: Told) -> str:
    step = one.data["step"]
    if walk.open or walk.released or walk.held or walk.contained or walk.stopped:
        return "in work, held, stopped or released"
    if step != walk.awaited and not (walk.back and step < walk.awaited and not walk.todo):
        return f"step {walk.awaited} is due"
    walk.open, walk.paused, walk.here = step, False, {one.actor}
    walk.visits[step] += 1
    if walk.visits[step] > walk.route[step].get("max_visits", walk.visits[step]):
        return "more visits than allowed"
    if window := walk.route[step].get("window"):
        waited = (one.at_us - walk.ended[window["after"]]) / HOUR_US
        if waited > window["max_hours"]:
            return f"begun {waited:.1f} h after step {window['after']}"
    return ""


def _end(walk: Walk, one: Told) -> str:
    step, outcome = one.data["step"], one.data["outcome"]
    if step != walk.open or walk.paused or walk.stopped:
        return "no such open visit, paused or stopped"
    if not walk.run:  # who accepts a furnace run did not work on the part
        walk.here.add(one.actor)
    if outcome == "pass":
        return _good(walk, step, one.at_us)
    card = walk.cards.get(one.data.get("card", ""))
    if outcome != "rework" or card is None or card["raised_at"] != step:
        return "ended badly without a stop, or by no listed card"
    _leave(walk, step, one.at_us)
    walk.todo = [*card["repeat"], step]
    walk.awaited = walk.todo[0]
    return "" if one.data.get("defect") else "no defect named"


def _leave(walk: Walk, step: int, at_us: int) -> None:
    if not walk.open:
        return  # stopped while it waited
    if walk.route[step]["kind"] != "inspection":
        walk.workers |= walk.here
    walk.open, walk.ended[step], walk.back, walk.paused = 0, at_us, False, False


def _good(walk: Walk, step: int, at_us: int) -> str:
    inspection = walk.route[step]["kind"] == "inspection"
    if inspection and walk.here & walk.workers:
        return "passed by who worked on it"
    _leave(walk, step, at_us)
    if inspection:
        walk.workers = set()
    numbers = list(walk.route)
    if step == numbers[-1]:
        walk.released = True
        if walk.suspect:
            return "released on a suspect reading"
        return "released while held" if walk.held or walk.contained else ""
    walk.todo = walk.todo[1:]
    walk.awaited = walk.todo[0] if walk.todo else numbers[numbers.index(step) + 1]
    return ""


def _pause(walk: Walk, one: Told) -> str:
    if one.data["step"] != walk.open or walk.paused or walk.stopped:
        return "nothing to pause"
    walk.paused = True
    return ""


def _resume(walk: Walk, one: Told) -> str:
    if one.data["step"] != walk.open or not walk.paused or walk.stopped:
        return "nothing to resume, or stopped"
    walk.paused = False
    walk.here.add(one.actor)
    return ""


def _measure(walk: Walk, one: Told) -> str:
    if one.data["step"] != walk.open or walk.paused:
        return "a reading outside its visit"
    known = {c["code"]: c for c in walk.route[walk.open].get("characteristic", ())}
    read = known.get(one.data["characteristic"])
    if read is None or one.data["unit"] != read["unit"]:
        return "unknown characteristic or unit"
    value = one.data["value"]
    if round(value, read["decimals"]) != value:
        return "not in its decimals"
    return "" if one.data["gauge"] else "no gauge"


def _hold(walk: Walk, one: Told) -> str:
    if walk.held is (one.kind == "hold") or not one.data["reason"] or walk.contained:
        return "a second hold, an unhold of none, contained, or no reason"
    walk.held = not walk.held
    return ""


def _contain(walk: Walk, one: Told) -> str:
    code = one.data["containment"]
    if (code in walk.contained) is (one.kind == "contain"):
        return "contained twice, or cleared of nothing"
    walk.contained ^= {code}
    return ""


def _notice(walk: Walk, one: Told) -> str:
    told = walk.sent and one.data["containment"] in walk.contained
    return "" if told else "a notice of a part that is here, or not contained"


def _stop(walk: Walk, one: Told) -> str:
    if one.data["step"] != (walk.open or walk.awaited) or walk.stopped:
        return "stopped elsewhere, or twice"
    walk.stopped = walk.paused = True
    return "" if one.data["defect"] else "no defect"


def _sentence(walk: Walk, one: Told) -> str:
    decision, step = one.data["decision"], walk.open or walk.awaited
    if not walk.stopped:
        return "nothing to decide"
    walk.stopped = False
    delegate = decision in ("repair", "concession")
    if one.actor != ("design-authority" if delegate else "quality-engineer"):
        return "decided by who may not"
    if delegate and not one.data.get("document"):
        return "no document"
    if decision == "withdrawn":
        return ""
    if decision == "concession":
        return _good(walk, step, one.at_us)
    _leave(walk, step, one.at_us)
    if decision == "scrap":
        walk.scrapped = True
    elif decision == "repair":
        walk.back, walk.awaited = True, step
    else:
        walk.todo = [*walk.cards[one.data["card"]]["repeat"], step]
        walk.awaited = walk.todo[0]
    return ""


def _witness(walk: Walk, _one: Told) -> str:
    return "" if walk.scrapped else "witnessed before it was scrapped"


def _reserve(walk: Walk, one: Told) -> str:
    if not walk.released or walk.held or walk.contained or walk.stopped:
        return "reserved before release, or held"
    if walk.kept:
        return f"kept for {walk.kept}"
    walk.kept = one.data["set"]
    return ""


def _give_back(walk: Walk, one: Told) -> str:
    right = walk.kept == one.data["set"] and not walk.slot
    walk.kept = ""
    return "" if right else "not kept for that set, or fitted"


def _fit(walk: Walk, one: Told) -> str:
    if walk.kept != one.data["set"] or walk.slot or walk.held or walk.contained:
        return "not kept for that set, held, or fitted already"
    walk.slot = one.data["slot"]
    return ""


def _return(walk: Walk, one: Told) -> str:
    right = walk.kept == one.data["set"] and walk.slot == one.data["slot"]
    walk.slot = 0
    return "" if right else "does not stand there"


def _send(walk: Walk, one: Told) -> str:
    if not walk.released or walk.held or walk.contained:
        return "sent before release, or held"
    if walk.kept and not walk.slot:
        return "sent though it is kept for a set and not fitted"
    walk.sent = True
    return "" if one.data["step"] == list(walk.route)[-1] else "from another step"
