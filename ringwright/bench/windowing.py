"""The window of the part on the screen, and the ways on once it ran out."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.bench.service import visits_left
from ringwright.core.instants import HOUR_US
from ringwright.kit.left import Left
from ringwright.ledger.service import Read
from ringwright.parts.queries import PartCard, read_folded
from ringwright.parts.state import IN_WORK, WAITING, Part
from ringwright.parts.windows import PartWindow, windows_of
from ringwright.routecards.card import RouteCard, Step


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowNow:
    """A window that a part is inside, or that ran out."""

    window: PartWindow
    after: Step
    """The step that it runs from, and that starts it anew."""
    visits_left: int | None
    """How many more times that step may be done; None: any number."""

    @property
    def left(self) -> Left:
        """The time left in it, to be run down on the screen."""
        return Left(until_us=self.window.deadline_us, left_us=self.window.left_us)

    @property
    def length_h(self) -> float:
        """How long it is [h]."""
        return self.window.length_us / HOUR_US

    @property
    def again(self) -> bool:
        """True where the earlier step may be done once more."""
        return self.visits_left != 0


def read_window(read: Read, card: PartCard, route: RouteCard) -> WindowNow | None:
    """The window to be told of a part: one that bars it before one that runs, then the first
    to end. None where its route asks none, or none runs.
    """
    asks = any(step.window for step in route.steps)
    if not asks or card.place not in (WAITING, IN_WORK):
        return None
    part = read_folded(read, card.serial)
    found = windows_of(part, max(read.now_us, part.last_at_us))
    return _told(part, found) if found else None


def _told(part: Part, found: tuple[PartWindow, ...]) -> WindowNow:
    first = min(found, key=lambda one: (not one.bars, one.let_on is not None))
    return WindowNow(
        window=first,
        after=part.route.by_number[first.after],
        visits_left=visits_left(part, first.after),
    )
