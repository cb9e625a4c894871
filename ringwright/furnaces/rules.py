"""What a furnace run must obey, and whether a furnace may be loaded: pure decisions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any, Final

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.furnaces.card import PROOFS, Channel, Furnace, Proved

LOADING, RUNNING, FINISHED = "loading", "running", "finished"
FOR_REVIEW, HELD = "for review", "held"
ACCEPTED, CLOSED, ABORTED = "accepted", "closed", "aborted"
OPEN: Final = frozenset({LOADING, RUNNING})
"""States in which the furnace is taken."""
UNDECIDED: Final = frozenset({LOADING, RUNNING, FINISHED, FOR_REVIEW, HELD})
"""States in which its parts can be in no other run."""
TAKES_READINGS: Final = frozenset({RUNNING, FINISHED, FOR_REVIEW, HELD})


@dataclass(slots=True)
class Batch:
    """Readings of a run under one digest."""

    digest: str
    first_us: int
    last_us: int
    samples: int
    source: str
    at_us: int
    by: str


@dataclass(slots=True)
class Run:
    """A furnace run as its facts have left it so far."""

    code: str
    furnace: str = ""
    recipe: str = ""
    revision: str = ""
    state: str = ""
    load: dict[str, str] = field(default_factory=dict)
    """Serial to its position, in the order they were loaded."""
    steps: dict[str, int] = field(default_factory=dict)
    """Serial to the step of its route that the run does."""
    batches: list[Batch] = field(default_factory=list)
    judgement: dict[str, Any] | None = None
    hands: list[str] = field(default_factory=list)
    """Who opened, loaded, started or ended it: none of them may accept it."""
    times: dict[str, int] = field(default_factory=dict)
    """State to the instant it came into it, µs UTC."""
    looked_at: dict[str, str] = field(default_factory=dict)
    """What who accepted it found of gas, thermocouples and coupons."""
    accepted_by: str = ""
    reason: str | None = None
    last_seq: int = 0

    @property
    def parts(self) -> tuple[str, ...]:
        """Its load."""
        return tuple(self.load)

    @property
    def started_us(self) -> int | None:
        """When the cycle began; None before."""
        return self.times.get(RUNNING)

    @property
    def ended_us(self) -> int | None:
        """When the cycle ended, finished or broken off; None before."""
        return self.times.get(FINISHED) or self.times.get(ABORTED)


def fold(code: str, entries: Sequence[Entry]) -> Run:
    """The run after its facts, in recorded order; raises Refused where they break a rule."""
    run = Run(code)
    for entry in entries:
        apply(run, entry)
    return run


def apply(run: Run, entry: Entry) -> None:
    """Move the run on by one fact; raises Refused and leaves it as it was."""
    if not run.state and entry.kind != "run-opened":
        raise Refused(f"there is no run {run.code}")
    before = run.state
    RULES[entry.kind](run, entry)
    if run.state != before:
        run.times[run.state] = entry.at_us
    if entry.kind in BY_HAND and entry.actor not in run.hands:
        run.hands.append(entry.actor)
    run.last_seq = entry.seq


def _must_be(run: Run, states: frozenset[str] | str, verb: str) -> None:
    allowed = {states} if isinstance(states, str) else states
    if run.state not in allowed:
        raise Refused(f"{run.code} is {run.state}; it cannot be {verb}")


def _open(run: Run, entry: Entry) -> None:
    if run.state:
        raise Refused(f"{run.code} exists already")
    data = entry.data
    run.furnace, run.recipe, run.revision = data["furnace"], data["recipe"], data["revision"]
    run.state = LOADING


def _load(run: Run, entry: Entry) -> None:
    _must_be(run, LOADING, "loaded")
    serial, position = entry.data["serial"], entry.data["position"]
    if serial in run.load:
        raise Refused(f"{serial} lies in position {run.load[serial]} already")
    there = next((one for one, place in run.load.items() if place == position), None)
    if there is not None:
        raise Refused(f"position {position} holds {there}")
    run.load[serial] = position
    run.steps[serial] = entry.data["step"]


def _unload(run: Run, entry: Entry) -> None:
    _must_be(run, LOADING, "unloaded")
    serial = entry.data["serial"]
    if serial not in run.load:
        raise Refused(f"{serial} does not lie in {run.code}")
    del run.load[serial], run.steps[serial]


def _start(run: Run, entry: Entry) -> None:
    del entry
    _must_be(run, LOADING, "started")
    if not run.load:
        raise Refused(f"{run.code} has no load; scan the parts into it first")
    run.state = RUNNING


def _abort(run: Run, entry: Entry) -> None:
    _must_be(run, OPEN, "aborted")
    run.state, run.reason = ABORTED, entry.data.get("reason")


def _finish(run: Run, entry: Entry) -> None:
    _must_be(run, RUNNING, "finished")
    if entry.at_us < (run.started_us or 0):
        raise Refused(f"{run.code} began later than that")
    run.state = FINISHED


def _keep(run: Run, entry: Entry) -> None:
    _must_be(run, TAKES_READINGS, "given readings")
    data = entry.data
    if any(batch.digest == data["digest"] for batch in run.batches):
        raise Refused("these readings are in the record already")
    run.batches.append(
        Batch(
            digest=data["digest"],
            first_us=data["first_us"],
            last_us=data["last_us"],
            samples=data["samples"],
            source=data.get("source", ""),
            at_us=entry.at_us,
            by=entry.actor,
        )
    )


def _judge(run: Run, entry: Entry) -> None:
    _must_be(run, frozenset({FINISHED, FOR_REVIEW, HELD}), "judged")
    run.judgement = entry.data["judgement"]
    run.state = FOR_REVIEW if stands(run.judgement) else HELD


def stands(judgement: dict[str, Any]) -> bool:
    """True for a trace that met its recipe with every thermocouple working."""
    return judgement["verdict"] == "met" and not judgement["channels_failed"]


def _accept(run: Run, entry: Entry) -> None:
    _must_be(run, FOR_REVIEW, "accepted")
    check_reviewer(run, entry.actor)
    names = ("gas", "thermocouples", "coupons")
    run.looked_at = {name: entry.data[name] for name in names}
    run.state, run.accepted_by = ACCEPTED, entry.actor


def check_reviewer(run: Run, who: str) -> None:
    """Refuse a reviewer who ran it: somebody else has to look."""
    if who in run.hands:
        raise Refused(
            f"{who} ran {run.code} and may not accept it; somebody else must", code="own-work"
        )


def _close(run: Run, entry: Entry) -> None:
    _must_be(run, frozenset({HELD, ABORTED}), "closed")
    run.state, run.reason = CLOSED, entry.data.get("reason")


RULES: Final[dict[str, Callable[[Run, Entry], None]]] = {
    "run-opened": _open,
    "part-loaded": _load,
    "part-unloaded": _unload,
    "run-started": _start,
    "run-aborted": _abort,
    "run-finished": _finish,
    "readings-kept": _keep,
    "run-judged": _judge,
    "run-accepted": _accept,
    "run-closed": _close,
}
BY_HAND: Final = frozenset(
    {"run-opened", "part-loaded", "part-unloaded", "run-started", "run-aborted", "run-finished"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofOnRecord:
    """One proof of a furnace with its entry."""

    number: int
    at_us: int
    by: str
    found: Proved


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnacePast:
    """A furnace with what was proved of it, in the order of its days."""

    furnace: Furnace
    proofs: Sequence[ProofOnRecord] = ()
    renewed: dict[str, int] = field(default_factory=dict)
    """Channel to the instant its thermocouple was renewed last, µs UTC."""

    def latest(self, what: str) -> ProofOnRecord | None:
        """The latest of a kind; of two on one day the later recorded."""
        found = [one for one in self.proofs if one.found.what == what]
        return max(found, key=lambda one: (one.found.on, one.number), default=None)

    def last_good(self, what: str, before: ProofOnRecord | None = None) -> ProofOnRecord | None:
        """The latest good one of a kind, before another if that is given."""
        found = [
            one
            for one in self.proofs
            if one.found.what == what and one.found.good
            if before is None or (one.found.on, one.number) < (before.found.on, before.number)
        ]
        return max(found, key=lambda one: (one.found.on, one.number), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """How one proof stands on a day."""

    what: str
    why: str = ""
    """What is wrong, as the rest of a sentence; empty where it is good."""
    last: Proved | None = None
    days_left: int | None = None

    @property
    def good(self) -> bool:
        """True where nothing speaks against loading the furnace."""
        return not self.why


def health(past: FurnacePast, day: str) -> tuple[Health, ...]:
    """Each proof that the furnace asks, as it stands on a day (ISO date, site time)."""
    return tuple(_health(past, what, day) for what in PROOFS if what in past.furnace.proofs)


def _health(past: FurnacePast, what: str, day: str) -> Health:
    last, word = past.latest(what), PROOFS[what]
    if last is None:
        return Health(what=what, why=f"has no {word} on record")
    found = last.found
    left = (date.fromisoformat(found.due) - date.fromisoformat(day)).days
    why = ""
    if not found.good:
        why = f"failed its {word} on {found.on}"
    elif left < 0:
        why = f"has been overdue for its {word} since {day_after(found.due)}"
    return Health(what=what, why=why, last=found, days_left=left)


def day_after(day: str) -> str:
    """The next ISO day."""
    return (date.fromisoformat(day) + timedelta(days=1)).isoformat()


def due_day(furnace: Furnace, what: str, on: str) -> str:
    """The last day a proof holds; raises Refused for one that the furnace does not ask."""
    proof = furnace.proofs.get(what)
    if proof is None:
        asked = ", ".join(furnace.proofs) or "none"
        raise Refused(f"{furnace.code} asks no {what[:40]!r} (asked: {asked})")
    return (date.fromisoformat(on) + timedelta(days=proof.days)).isoformat()


def within(furnace: Furnace, what: str, value: float) -> bool | None:
    """Whether a value proves it; None where the furnace has no limit for it.

    A survey's limit is its class's where the furnace says none of its own.
    """
    limit = furnace.proofs[what].limit
    if limit is None:
        return None
    return value >= limit if what == "gas" else abs(value) <= limit


def worn(channel: Channel, uses: int) -> str:
    """Why a thermocouple may not be used again, as the rest of a sentence; empty if it may."""
    if channel.most_uses is not None and uses >= channel.most_uses:
        return f"has been used in {uses} runs, {channel.most_uses} at most; renew it"
    return ""
