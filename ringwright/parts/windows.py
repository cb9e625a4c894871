"""Windows: a step that must begin within a time of an earlier one: cleaned, then loaded.

The time runs from the end of the last accepted visit at the earlier step to the begin at the
later one. Both are instants on record, in UTC: neither a hold or a pause nor a restart or a
change of the site's clock stops it. `max_hours` is a limit, and limits are inside: a begin at
the deadline itself is in time, the first microsecond after it is not.

Once it ran out there are two ways on. The earlier step is done again, which starts the window
anew; or the part is stopped as `RAN_OUT`, and a repair or concession of that nonconformity
lets it begin once though its window ran out.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.core.errors import Refused
from ringwright.core.instants import HOUR_US
from ringwright.parts.state import IN_WORK, Part
from ringwright.routecards.card import RouteCard, Step, Window

ACCEPTED: Final = ("pass", "concession")
"""Outcomes of a visit that a window runs from."""
LETS_ON: Final = ("repair", "concession")
"""Sentences by which the design authority lets a part go on though its window ran out."""
RAN_OUT: Final = "window ran out"
"""The defect of a stop that holds a part for the design authority for its window."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LetOn:
    """A stop for a window that the design authority decided."""

    number: int
    """Of the nonconformity."""
    opened_us: int
    closed_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What the windows of one part are judged by, folded from its facts or read from rows."""

    accepted_us: Mapping[int, int]
    """Step to the end of its last accepted visit."""
    begun_us: Mapping[int, int]
    """Step to the begin of its last visit."""
    let_on: Sequence[LetOn] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWindow:
    """The window of one part at one instant: step `before` is to begin by `deadline_us`."""

    after: int
    before: int
    began_us: int
    deadline_us: int
    left_us: int
    """Time until the deadline; negative once it ran out."""
    let_on: int | None = None
    """The nonconformity by which the part may begin though it ran out."""

    @property
    def length_us(self) -> int:
        """How long it is, from the end of the one step to the begin of the other."""
        return self.deadline_us - self.began_us

    @property
    def ran_out(self) -> bool:
        """True after the deadline, which itself is inside."""
        return self.left_us < 0

    @property
    def bars(self) -> bool:
        """True when the step may not begin: it ran out, and nobody let the part go on."""
        return self.ran_out and self.let_on is None


def deadline_us(window: Window, began_us: int) -> int:
    """The last instant at which the step may begin [us]."""
    return began_us + round(window.max_hours * HOUR_US)


def window_of(step: Step | None, past: Past, at_us: int) -> PartWindow | None:
    """The window that a begin at the step is judged by; None where none has begun to run.

    None, too, where the earlier step was never accepted: who skipped it said why.
    """
    if step is None or step.window is None:
        return None
    began_us = past.accepted_us.get(step.window.after)
    if began_us is None:
        return None
    end_us = deadline_us(step.window, began_us)
    return PartWindow(
        after=step.window.after,
        before=step.number,
        began_us=began_us,
        deadline_us=end_us,
        left_us=end_us - at_us,
        let_on=_let_on(past, step.number, end_us),
    )


def _let_on(past: Past, step: int, end_us: int) -> int | None:
    """The decision made on this very window, not used up by a begin at the step since."""
    begun_us = past.begun_us.get(step)
    good = [
        one.number
        for one in past.let_on
        if one.opened_us > end_us and (begun_us is None or begun_us < one.closed_us)
    ]
    return max(good, default=None)


def windows_from(
    card: RouteCard, here: int, past: Past, at_us: int, *, in_work: bool
) -> tuple[PartWindow, ...]:
    """The windows of a part at a step, of that step and later ones, the first to end first.

    A part in work has begun its step; before the end of the earlier step nothing runs.
    """
    if here not in card.index:
        return ()
    place = card.index[here]
    due = card.steps[place + in_work :]
    found = [window_of(step, past, at_us) for step in due]
    running = [one for one in found if one is not None and card.index[one.after] < place]
    return tuple(sorted(running, key=lambda one: (one.deadline_us, one.before)))


def past_of(part: Part) -> Past:
    """What its windows are judged by, of a folded part."""
    visits = [(visit.step, visit) for visit in part.visits if visit.step is not None]
    return Past(
        accepted_us={step: one.end_us for step, one in visits if one.outcome in ACCEPTED},
        begun_us={step: one.begin_us for step, one in visits},
        let_on=tuple(
            LetOn(number=row.number, opened_us=row.opened_us, closed_us=row.closed_us)
            for row in part.nonconformities
            if row.defect == RAN_OUT and row.decision in LETS_ON
        ),
    )


def windows_of(part: Part, at_us: int) -> tuple[PartWindow, ...]:
    """The windows a folded part is inside at an instant [us], or that ran out, by deadline."""
    if part.card is None or part.step is None:
        return ()
    found = windows_from(
        part.card, part.step, past_of(part), at_us, in_work=part.place == IN_WORK
    )
    ahead = _ahead(part)
    return tuple(one for one in found if one.before in ahead)


def _ahead(part: Part) -> Collection[int]:
    """The steps a part has before it: of its rework card, then along the route."""
    order, index = part.route.order, part.route.index
    steps = part.rework or (part.step,)
    last = steps[-1]
    assert last is not None
    return {*steps, *order[index[last] :]}


def renewed_by(part: Part, step: int, at_us: int) -> PartWindow | None:
    """The window that ran out and that a begin at `step` would start anew; None where none."""
    return next(
        (one for one in windows_of(part, at_us) if one.after == step and one.ran_out), None
    )


def check_renewal(part: Part, step: int, before: int, at_us: int) -> None:
    """Refuse a begin behind the step awaited for a window that had not run out by then."""
    of_step = [one for one in windows_of(part, at_us) if one.before == before]
    if not of_step or of_step[0].after != step:
        raise Refused(f"step {before} has no window that a begin at step {step} would renew")
    if not of_step[0].ran_out:
        raise Refused(
            f"the window of step {before} had not run out; step {step} is done again only then"
        )
