"""What a spindle may do next, and how its log divides time. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.core.errors import Refused
from ringwright.machines.card import OTHER, REASONS

OFF, SET_UP, CUTTING, STOPPED = "off", "set-up", "cutting", "stopped"
ACTS: Final[dict[str, str]] = {
    "set-up": "set-up-begun",
    "cut": "cutting-begun",
    "stop": "spindle-stopped",
    "resume": "spindle-resumed",
    "off": "spindle-off",
}
"""What can be logged, and the fact it becomes."""
_STATE: Final = {"set-up-begun": SET_UP, "cutting-begun": CUTTING, "spindle-off": OFF}


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """One line of a spindle's log."""

    number: int
    at_us: int
    kind: str
    actor: str = ""
    serial: str = ""
    step: int = 0
    reason: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A time in which the spindle was in one state."""

    state: str
    begin_us: int
    end_us: int
    serial: str = ""
    step: int = 0
    reason: str = ""
    text: str = ""
    open: bool = False
    """True while it goes on."""

    @property
    def us(self) -> int:
        """How long it was."""
        return self.end_us - self.begin_us


def state_after(log: Iterable[Noted]) -> tuple[str, str]:
    """The state after a log, and what a stop in force would go on with."""
    state, before = OFF, OFF
    for line in log:
        if line.kind == "spindle-stopped":
            before = before if state == STOPPED else state
            state = STOPPED
        elif line.kind == "spindle-resumed":
            state = before
        else:
            state = before = _STATE[line.kind]
    return state, before


def check_act(act: str, log: Sequence[Noted], reason: str = "", text: str = "") -> None:
    """Raises Refused for what cannot follow, with what to do instead."""
    state, before = state_after(log)
    if act not in ACTS:
        raise Refused("that act is not known here; open the page again")
    if act == "set-up" and state == SET_UP:
        raise Refused("the set-up is under way already")
    if act == "cut" and state == CUTTING:
        raise Refused("it is cutting already")
    if act == "resume" and (state != STOPPED or before == OFF):
        raise Refused("there is no stop to go on from; log set-up or cutting")
    if act == "off" and (state == OFF or not log):
        raise Refused("the machine is off already")
    if act == "stop":
        _check_stop(state, log, reason, text)


def _check_stop(state: str, log: Sequence[Noted], reason: str, text: str) -> None:
    if reason not in REASONS:
        raise Refused("say why it stands: choose one of the reasons")
    if reason == OTHER and not text.strip():
        raise Refused("say in words what the other reason is")
    if state == STOPPED and (log[-1].reason, log[-1].text) == (reason, text.strip()):
        raise Refused("it is stopped for that reason already")


def spans_of(log: Sequence[Noted], until_us: int) -> list[Span]:
    """The log as spans up to a moment; what is off is no span. The log ascends in time."""
    spans: list[Span] = []
    for place, line in enumerate(log):
        state, _ = state_after(log[: place + 1][-LOOK_BACK:])
        last = place + 1 == len(log)
        end_us = until_us if last else min(log[place + 1].at_us, until_us)
        if state == OFF or end_us <= line.at_us:
            continue
        stopped = state == STOPPED
        spans.append(
            Span(
                state=state, begin_us=line.at_us, end_us=end_us, serial=line.serial,
                step=line.step, reason=line.reason if stopped else "",
                text=line.text if stopped else "", open=last,
            )
        )  # fmt: skip
    return spans


LOOK_BACK: Final = 50
"""Lines that say what a stop goes on with: no stop changes its reason more often."""


def clipped(spans: Iterable[Span], begin_us: int, end_us: int) -> list[Span]:
    """The parts of spans that lie in a window."""
    return [
        Span(
            state=one.state, begin_us=max(one.begin_us, begin_us),
            end_us=min(one.end_us, end_us), serial=one.serial, step=one.step,
            reason=one.reason, text=one.text, open=one.open and one.end_us <= end_us,
        )
        for one in spans
        if one.begin_us < end_us and one.end_us > begin_us
    ]  # fmt: skip


def hours_in(spans: Iterable[Span], state: str) -> float:
    """Hours in one state."""
    return sum(one.us for one in spans if one.state == state) / 3_600_000_000
