"""A second opinion on the furnace runs of the story, written from their rules alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from seed_demo.told import Told

FURNACES = ("INF-1", "INF-2")
TAKEN = ("loading", "running")


@dataclass
class Run:
    """One run while its facts are read."""

    furnace: str
    state: str = "loading"
    load: dict[str, str] = field(default_factory=dict)
    begun: dict[str, int] = field(default_factory=dict)
    hands: set[str] = field(default_factory=set)
    decided_us: int = 0


class Runs:
    """All runs; `walks` tells where each part stands."""

    def __init__(self, walks: Mapping[str, Any]) -> None:
        self.walks = walks
        self.known: dict[str, Run] = {}

    def part(self, one: Told) -> str:
        """What is wrong with a part's fact as far as runs go; empty when nothing is."""
        if one.kind == "begin":
            return self._begin(one)
        if one.kind == "end":
            return self._end(one)
        if one.kind == "sentence":
            walk = self.walks[one.subject]
            walk.run = walk.run if walk.open else ""
        return ""

    def _begin(self, one: Told) -> str:
        code = one.data.get("run", "")
        self.walks[one.subject].run = code
        if (one.station in FURNACES) is not bool(code):
            return "begun at a furnace without a run, or the other way"
        if not code:
            return ""
        run = self.known.get(code)
        if run is None:
            return "begun in a run that was never opened"
        run.begun[one.subject] = one.at_us
        if one.subject not in run.load or run.state != "loading" or run.furnace != one.station:
            return "begun in a run that it is not loaded into"
        return ""

    def _end(self, one: Told) -> str:
        walk = self.walks[one.subject]
        code, walk.run = walk.run, ""
        if code != one.data.get("run", ""):
            return "a run that did not begin it ends it, or none does"
        run = self.known.get(code)
        if code and (run is None or (run.state, run.decided_us) != ("accepted", one.at_us)):
            return "ended by a run that is not accepted then"
        return ""

    def run(self, one: Told) -> str:
        """What is wrong with a fact of a run; empty when nothing is."""
        if one.kind == "run-opened":
            return self._open(one)
        run = self.known.get(one.subject)
        if run is None:
            return "never opened"
        if one.kind in ("part-loaded", "run-started", "run-finished", "run-aborted"):
            run.hands.add(one.actor)
        return {
            "part-loaded": self._load, "run-started": self._start, "run-aborted": self._abort,
            "run-finished": self._finish, "readings-kept": self._keep,
            "run-judged": self._judge, "run-accepted": self._accept, "run-closed": self._close,
        }[one.kind](run, one)  # fmt: skip

    def _open(self, one: Told) -> str:
        furnace = one.data["furnace"]
        taken = [run for run in self.known.values() if run.furnace == furnace]
        twice = one.subject in self.known
        self.known[one.subject] = Run(furnace, hands={one.actor})
        if twice or any(run.state in TAKEN for run in taken):
            return "opened twice, or while another run takes the furnace"
        return ""

    def _load(self, run: Run, one: Told) -> str:
        serial, position = one.data["serial"], one.data["position"]
        walk = self.walks.get(serial)
        wrong = run.state != "loading" or serial in run.load or position in run.load.values()
        run.load[serial] = position
        if wrong:
            return "loaded twice, onto another part, or too late"
        if walk is None or walk.open or walk.stopped or walk.held or walk.contained:
            return "loaded though in work or held"
        return "" if walk.awaited == one.data["step"] else "loaded for a step not due"

    def _start(self, run: Run, one: Told) -> str:
        together = set(run.begun.values()) == {one.at_us}
        wrong = run.state != "loading" or run.begun.keys() != run.load.keys() or not together
        run.state = "running"
        return "begun without its load, or not together" if wrong else ""

    def _keep(self, run: Run, one: Told) -> str:
        return (
            "" if run.state == "running" and one.data["last"] > one.data["first"] else "when?"
        )

    def _finish(self, run: Run, _one: Told) -> str:
        wrong, run.state = run.state != "running", "finished"
        return "finished, but did not run" if wrong else ""

    def _abort(self, run: Run, one: Told) -> str:
        wrong, run.state = run.state != "running", "held"
        return "" if one.data["reason"] and not wrong else "aborted, but did not run"

    def _judge(self, run: Run, one: Told) -> str:
        judgement, wrong = one.data["judgement"], run.state != "finished"
        good = judgement["verdict"] == "met" and not judgement["channels_failed"]
        run.state = "for review" if good else "held"
        return "judged before it ended" if wrong else ""

    def _accept(self, run: Run, one: Told) -> str:
        wrong, run.state, run.decided_us = run.state != "for review", "accepted", one.at_us
        if wrong or one.actor in run.hands or not one.actor.startswith("inspector"):
            return "accepted though not met, by who ran it, or by who may not"
        waiting = [walk for walk in self._inside(run) if walk.stopped]
        return "accepted while a part of it waits for its sentence" if waiting else ""

    def _inside(self, run: Run) -> list[Any]:
        return [self.walks[serial] for serial in run.load if serial in self.walks]

    def _close(self, run: Run, one: Told) -> str:
        wrong, run.state = run.state != "held", "closed"
        inside = [walk for walk in self._inside(run) if walk.run == one.subject and walk.open]
        return "closed with parts in it, or never held" if wrong or inside else ""
