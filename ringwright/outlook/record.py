"""What happened to the parts of one product before a moment, as arrays."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

NEVER_US: Final = 2**62
"""The end of what has not ended yet."""

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A step of the route card: its number, name and planned hours."""

    number: int
    name: str
    work_h: float
    queue_h: float

    @property
    def stay_h(self) -> tuple[float, float]:
        """Planned wait before it and work at it [h]."""
        return self.queue_h, self.work_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """One visit and the wait after it; `step` None is the wait after creation.

    From begin to end the part is in work, from end to leave it waits for `goes_to` (a number
    of the route, None when it waits for nothing). Instants are microseconds UTC.
    """

    serial: str
    step: int | None
    begin_us: int
    end_us: int
    leave_us: int
    goes_to: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A span in which a part was on hold; NEVER_US when it still is."""

    serial: str
    from_us: int
    to_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """The visits of one product, in the order of parts and of time; steps by their place.

    `step` is -1 for the wait after creation, `goes_to` -1 for no wait. `onward` is where the
    part went after each visit: a place, `released` or `gone`; -1 where it has not ended.
    """

    plan: tuple[Planned, ...]
    serials: tuple[str, ...]
    part: Ints
    step: Ints
    begin_us: Ints
    end_us: Ints
    leave_us: Ints
    goes_to: Ints
    onward: Ints
    by_end: Ints
    """The rows in the order of their ends."""
    released_us: Ints
    """Of each part; NEVER_US when it is not."""
    hold_part: Ints
    """Of each hold its part; -1 where it is not among these."""
    holds_us: Ints
    """(holds, 2): from and to of each hold, NEVER_US while it lasts."""

    @property
    def content(self) -> str:
        """A digest of all it holds: two records with the same one are the same."""
        told = hashlib.sha256(repr((self.plan, self.serials)).encode())
        for column in (
            self.part, self.step, self.begin_us, self.end_us, self.leave_us, self.goes_to,
            self.released_us, self.hold_part, self.holds_us,
        ):  # fmt: skip
            told.update(column.tobytes() + b"|")
        return told.hexdigest()

    @property
    def released(self) -> int:
        """The place after the last step."""
        return len(self.plan)

    @property
    def gone(self) -> int:
        """Where scrapped and used parts are."""
        return len(self.plan) + 1

    @property
    def first_us(self) -> int:
        """When its first visit began; NEVER_US when there is none."""
        return int(self.begin_us.min()) if len(self.begin_us) else NEVER_US


def record_of(
    plan: Sequence[Planned],
    visits: Iterable[Passed],
    released_us: dict[str, int],
    holds: Iterable[Held] = (),
) -> Record:
    """A record from visits in the order of parts and of time; `released_us` by serial."""
    rows = list(visits)
    serials = tuple(dict.fromkeys(row.serial for row in rows))
    number = {serial: place for place, serial in enumerate(serials)}
    place = {step.number: at for at, step in enumerate(plan)}
    part = _ints(number[row.serial] for row in rows)
    step = _ints(place.get(row.step, -1) if row.step is not None else -1 for row in rows)
    goes_to = _ints(
        place.get(row.goes_to, -1) if row.goes_to is not None else -1 for row in rows
    )
    leave_us = _ints(row.leave_us for row in rows)
    end_us = _ints(row.end_us for row in rows)
    out_us = _ints(released_us.get(serial, NEVER_US) for serial in serials)
    spans = [(number.get(hold.serial, -1), hold.from_us, hold.to_us) for hold in holds]
    held = np.array(spans, dtype=np.int64).reshape(-1, 3)
    return Record(
        plan=tuple(plan),
        serials=serials,
        part=part,
        step=step,
        begin_us=_ints(row.begin_us for row in rows),
        end_us=end_us,
        leave_us=leave_us,
        goes_to=goes_to,
        onward=_onward(part, step, end_us, leave_us, goes_to, out_us, len(plan)),
        by_end=np.argsort(end_us, kind="stable"),
        released_us=out_us,
        hold_part=held[:, 0],
        holds_us=held[:, 1:],
    )


def _onward(*columns: Any) -> Ints:
    """The next visit's step; else released or gone; else what the part waits for."""
    part, step, end_us, leave_us, goes_to, out_us, steps = columns
    onward: Ints = goes_to.copy()
    if not len(part):
        return onward
    last = np.append(part[1:] != part[:-1], True)
    following = np.append(step[1:], -1)
    onward = np.where(last, onward, following)
    left = last & (leave_us < NEVER_US)
    onward = np.where(left, np.where(out_us[part] < NEVER_US, steps, steps + 1), onward)
    return np.where(end_us < NEVER_US, onward, -1).astype(np.int64)


def cut(record: Record, at_us: int) -> Record:
    """The record as it would be had it ended at an instant: what lay before it, no more."""
    rows = np.flatnonzero(record.begin_us < at_us)
    end_us = _before(record.end_us[rows], at_us)
    leave_us = _before(record.leave_us[rows], at_us)
    goes_to = np.where(end_us < NEVER_US, record.goes_to[rows], -1)
    part, step = record.part[rows], record.step[rows]
    released_us = _before(record.released_us, at_us)
    holds = np.flatnonzero(record.holds_us[:, 0] < at_us)
    return replace(
        record,
        part=part,
        step=step,
        begin_us=record.begin_us[rows],
        end_us=end_us,
        leave_us=leave_us,
        goes_to=goes_to,
        onward=_onward(part, step, end_us, leave_us, goes_to, released_us, record.released),
        by_end=np.argsort(end_us, kind="stable"),
        released_us=released_us,
        hold_part=record.hold_part[holds],
        holds_us=_before(record.holds_us[holds], at_us),
    )


def _before(us: Ints, at_us: int) -> Ints:
    return np.where(us < at_us, us, NEVER_US)


def _ints(values: Iterable[int]) -> Ints:
    return np.fromiter(values, dtype=np.int64)
