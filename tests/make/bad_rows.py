"""Rows that no record may hold, each put where the part stands so that only it is wrong.

The kinds are those of the project's own contract for a history file.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from tests.make.cells import Cell, Life, Standing
from tests.make.histories import Route

Row = dict[str, str]


@dataclass(frozen=True)
class Here:
    """Where a part stands on its route."""

    now: Standing
    route: Route

    @property
    def idle(self) -> bool:
        """It waits for a step."""
        return self.now.place == "waiting"

    @property
    def works(self) -> bool:
        """A visit is open."""
        return self.now.open is not None

    @property
    def done(self) -> bool:
        """No step is due any more."""
        return self.now.place in ("released", "scrapped", "sent")

    @property
    def reads(self) -> bool:
        """Something is read at the step it is in work at."""
        return self.now.open in self.route.read

    @property
    def read_elsewhere(self) -> int | None:
        """A step at which something is read, and it is not in work there."""
        return next((step for step in self.route.read if step != self.now.open), None)

    @property
    def behind(self) -> bool:
        """Waiting, free to begin, but not at the first step."""
        free = self.idle and not self.now.held and not self.now.free
        return free and self.now.due != self.route.steps[0]

    def words(self) -> dict[str, str]:
        """What the rows below may speak of."""
        steps, now = self.route.steps, self.now
        code, unit = self.route.read.get(now.open or 0, ("", ""))
        far = self.read_elsewhere
        far_code, far_unit = ("", "") if far is None else self.route.read[far]
        other = next((step for step in steps if step != now.open), "")
        found = {
            "open": now.open, "due": now.due, "first": steps[0], "last": steps[-1],
            "other": other, "code": code, "unit": unit,
            "far": far, "far_code": far_code, "far_unit": far_unit,
        }  # fmt: skip
        return {name: str(value) for name, value in found.items()}


Where = Callable[[Here], bool]
READING = {"act": "measure", "step": "{open}", "characteristic": "{code}", "value": "1",
           "unit": "{unit}"}  # fmt: skip
FAR_READING = READING | {"step": "{far}", "characteristic": "{far_code}", "unit": "{far_unit}"}
PASS = {"act": "end", "outcome": "pass"}

OF_THE_PART: tuple[tuple[str, Where, Row], ...] = (
    ("begin while in work", lambda h: h.works, {"act": "begin", "step": "{first}"}),
    ("begin on hold", lambda h: h.idle and h.now.held, {"act": "begin", "step": "{due}"}),
    ("begin behind", lambda h: h.behind, {"act": "begin", "step": "{first}"}),
    ("begin of no step", lambda h: h.idle and not h.now.held, {"act": "begin", "step": "777"}),
    ("begin of the done", lambda h: h.done, {"act": "begin", "step": "{last}"}),
    ("end without a visit", lambda h: not h.works, PASS | {"step": "{last}"}),
    ("end at another step", lambda h: h.works and len(h.route.steps) > 1,
     PASS | {"step": "{other}"}),
    ("release on hold", lambda h: h.now.open == h.route.steps[-1] and h.now.held,
     PASS | {"step": "{last}"}),
    ("concession on hold", lambda h: h.now.open == h.route.steps[-1] and h.now.held,
     {"act": "end", "outcome": "concession", "step": "{last}"}),
    ("reading outside", lambda h: not h.works and h.read_elsewhere is not None, FAR_READING),
    ("reading elsewhere", lambda h: h.works and h.read_elsewhere is not None, FAR_READING),
    ("reading of nothing", lambda h: h.reads, READING | {"characteristic": "colour"}),
    ("reading in cubits", lambda h: h.reads, READING | {"unit": "cubit"}),
    *((f"reading of {text!r}", lambda h: h.reads, READING | {"value": text})
      for text in ("nan", "-inf", "1,5", "much", "", "1e999")),
    ("second hold", lambda h: h.now.held and not h.done, {"act": "hold", "reason": "again"}),
    ("unhold of none", lambda h: not h.now.held, {"act": "unhold"}),
    ("send too early", lambda h: h.now.place in ("waiting", "in work"),
     {"act": "send", "step": "{last}"}),
    ("second send", lambda h: h.now.place == "sent", {"act": "send", "step": "{last}"}),
    ("pause of no visit", lambda h: not h.works, {"act": "pause", "step": "{first}"}),
    ("pause of a pause", lambda h: h.now.rests, {"act": "pause", "step": "{open}"}),
    ("resume of no pause", lambda h: h.works and not h.now.rests,
     {"act": "resume", "step": "{open}"}),
    ("second create", lambda h: not h.done, {"act": "create"}),
)  # fmt: skip

OF_THE_ROW: tuple[tuple[str, Row], ...] = (
    ("no offset", {"at": "2026-10-01T12:00:00"}),
    ("no time at all", {"at": ""}),
    ("a day that is none", {"at": "2026-02-30T12:00:00Z"}),
    ("words for a time", {"at": "yesterday"}),
    ("an unknown act", {"act": "finish"}),
    ("no act", {"act": ""}),
    ("an unknown outcome", {"act": "end", "step": "1", "outcome": "ok"}),
    ("an end without an outcome", {"act": "end", "step": "1"}),
    ("a step that is no number", {"act": "begin", "step": "1.5"}),
    ("a begin without a step", {"act": "begin"}),
    ("an unknown product", {"product": "NOTHING"}),
    ("no serial", {"serial": ""}),
    ("a field too long", {"reason": "x" * 10_001}),
    ("NUL in a text", {"reason": "a\x00b"}),
    ("a control character in a serial", {"serial": "A\x1dB"}),
    ("a control character in a key", {"key": "A\x1dB"}),
    *(
        (f"{name} beginning with {sign!r}", {name: f"{sign}1"})
        for name, sign in (
            ("serial", "="), ("serial", "\t"), ("defect", "@"), ("lot", "+"),
            ("station", "-"), ("by", "="),
        )
    ),
    ("characteristic beginning with '='", {
        "act": "measure", "step": "1", "characteristic": "=1", "value": "1", "unit": "mm",
    }),
)  # fmt: skip


def bad_row_after(
    where: Where, says: Row, life: Life, dice: random.Random
) -> tuple[int, Row] | None:
    """(number of the row it follows, the bad row at that same moment), if there is a place."""
    places = [n for n, now in enumerate(life.after) if where(Here(now, life.route))]
    if not places:
        return None
    number = dice.choice(places)
    words = Here(life.after[number], life.route).words()
    row = dict.fromkeys(life.rows[0], "")
    row |= {name: life.rows[number][name] for name in ("at", "serial", "product")}
    return number, row | {name: text.format(**words) for name, text in says.items()}


def bad_by_itself(says: Row, cell: Cell, number: int) -> Row:
    """A row that is bad wherever it stands: a first row of a part nobody knows, spoilt."""
    row = dict.fromkeys(cell.lives[0].rows[0], "")
    good = {"at": "2026-10-01T12:00:00Z", "serial": f"NEW-{number}", "act": "create"}
    return row | good | {"product": cell.routes[0].product, "key": f"new {number}"} | says
