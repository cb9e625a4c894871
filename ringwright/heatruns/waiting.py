"""The parts that wait for a furnace, each with the window it must be loaded in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ringwright.db import FOREVER_US
from ringwright.flow.windows import NOTHING, read_pasts
from ringwright.heatruns.queries import waiting_parts
from ringwright.ledger.service import Read
from ringwright.parts.windows import Past, window_of
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.queries import card_finder


@dataclass(frozen=True, slots=True, kw_only=True)
class ForFurnace:
    """A part that waits to be heated."""

    serial: str
    product: str
    step: Step
    since_us: int
    priority: int
    hold: str | None
    after: int | None = None
    """The step that its window runs from."""
    deadline_us: int | None = None
    """When its window is over; None where the step asks none, or somebody let it go on."""

    def left_us(self, now_us: int) -> int | None:
        """Time until its window is over; negative once it is."""
        return None if self.deadline_us is None else self.deadline_us - now_us


def read_waiting(read: Read) -> list[ForFurnace]:
    """Every part that waits for a heat cycle: windows that end first come first."""
    rows = read.connection.execute(waiting_parts(read)).all()
    find = card_finder(read.connection, read.site.id)
    found = []
    for row in rows:
        card: RouteCard = find(row.product, row.revision)
        step = card.by_number.get(row.step or -1)
        if step is not None and step.kind == "heat-cycle":
            found.append((row, step))
    serials = [row.serial for row, step in found if step.window]
    cards = {(row.product, row.revision): find(row.product, row.revision) for row, _ in found}
    pasts = read_pasts(read, FOREVER_US, serials, cards.values())
    parts = [
        _part(row, step, pasts.get(row.serial, NOTHING), read.now_us) for row, step in found
    ]
    return sorted(
        parts,
        key=lambda one: (
            one.deadline_us or FOREVER_US,
            -one.priority,
            one.since_us,
            one.serial,
        ),
    )


def _part(row: Any, step: Step, past: Past, now_us: int) -> ForFurnace:
    window = window_of(step, past, now_us)
    let_on = window is not None and window.let_on is not None
    return ForFurnace(
        serial=row.serial,
        product=row.product,
        step=step,
        since_us=row.since_us,
        priority=row.priority,
        hold=row.hold,
        after=step.window.after if step.window else None,
        deadline_us=None if window is None or let_on else window.deadline_us,
    )
