"""The furnace runs of the story as tests read them: one record a run, from the facts alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from seed_demo.told import Told

SEALED = {"run-finished": "ended", "run-aborted": "ended", "run-started": "running"}
LATER = {"run-accepted": "accepted", "run-closed": "closed"}


@dataclass
class RunTold:
    """One run: its load, when each thing happened to it, what its trace said."""

    code: str
    furnace: str
    revision: str
    state: str = "loading"
    load: dict[str, str] = field(default_factory=dict)
    at_us: dict[str, int] = field(default_factory=dict)
    by: dict[str, str] = field(default_factory=dict)
    judgement: dict[str, Any] | None = None
    cycle: list[Any] = field(default_factory=list)
    samples: int = 0

    @property
    def met(self) -> bool:
        """True where the trace met its recipe."""
        return self.judgement is not None and self.judgement["verdict"] == "met"


def runs_of(story: Iterable[Told]) -> dict[str, RunTold]:
    """Code to run, in the order in which they were opened."""
    found: dict[str, RunTold] = {}
    for one in story:
        if one.subject_kind != "run":
            continue
        if one.kind == "run-opened":
            data = one.data
            found[one.subject] = RunTold(one.subject, data["furnace"], data["revision"])
        run = found[one.subject]
        run.at_us[one.kind], run.by[one.kind] = one.at_us, one.actor
        run.state = {**SEALED, **LATER}.get(one.kind, run.state)
        if one.kind == "part-loaded":
            run.load[one.data["serial"]] = one.data["position"]
        elif one.kind == "readings-kept":
            run.cycle = one.data["cycle"]
            run.samples += one.data["last"] - one.data["first"]
        elif one.kind == "run-judged":
            run.judgement = one.data["judgement"]
            good = run.met and not run.judgement["channels_failed"]
            run.state = "for review" if good else "held"
        if one.kind == "run-aborted":
            run.state = "held"
    return found
