"""Readings booked at the Bench: what was taken, with which gauge, and whether it may decide."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from ringwright.core.conformity import GUARD, OUTSIDE, mean_of, standard_uncertainty
from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.gauges.judging import GaugeDesk
from ringwright.parts import facts
from ringwright.parts.rows import ReadingRow
from ringwright.parts.state import Part
from ringwright.routecards.card import Characteristic

if TYPE_CHECKING:
    from ringwright.bench.service import Desk

AHEAD_LIMIT_US = 5 * 60 * 1_000_000
MOST_REPEATS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One reading as it was taken, with what stands beside it."""

    value: float | None = None
    """None: the mean of the repeats that count."""
    repeats: tuple[float, ...] = ()
    left_out: tuple[int, ...] = ()
    """Places, from 0, of repeats that somebody set aside; `reason` says why."""
    gauge: str | None = None
    uncertainty: float | None = None
    """Of this very reading (a fit); the gauge's own stands where it is larger."""
    fixture: str | None = None
    torque_n_m: float | None = None
    temperature_c: float | None = None
    recording: str | None = None
    reason: str | None = None

    def counted(self) -> tuple[float, ...]:
        """The repeats that count; raises Refused where none is left, or one is no number."""
        if len(self.repeats) > MOST_REPEATS:
            raise Refused(f"{len(self.repeats)} repeats are too many; {MOST_REPEATS} at most")
        if any(not math.isfinite(one) for one in self.repeats):
            raise Refused("a repeat is not a finite number")
        kept = tuple(v for i, v in enumerate(self.repeats) if i not in self.left_out)
        if self.repeats and not kept:
            raise Refused("every repeat is set aside; one must count")
        if self.left_out and not (self.reason or "").strip():
            raise Refused("say why a repeat is set aside (reason)")
        return kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """The readings of one act."""

    taken: Mapping[str, Taken]
    gauges: Mapping[str, str] = field(default_factory=dict)
    """Characteristic, or kind of gauge, to the gauge it was read with."""
    gauge: str | None = None
    """What all the others were read with."""
    at_us: int | None = None
    station: str = ""

    def gauge_of(self, characteristic: Characteristic, taken: Taken) -> str | None:
        """The gauge one characteristic was read with; None where none was named."""
        named = (taken.gauge, self.gauges.get(characteristic.code))
        of_kind = self.gauges.get(characteristic.gauge_kind or "")
        return next((one for one in (*named, of_kind, self.gauge) if one), None)


def plain(readings: Mapping[str, float]) -> dict[str, Taken]:
    """Readings that are figures and nothing else."""
    return {code: Taken(value=float(value)) for code, value in readings.items()}


def check_when(now_us: int, at_us: int | None) -> None:
    """Refuse a moment that lies ahead of the server's clock."""
    if at_us is not None and at_us > now_us + AHEAD_LIMIT_US:
        raise Refused(
            "at lies more than five minutes ahead of the server's clock; set it right"
        )


def enter(desk: Desk, step: int, given: Readings, *, decides: bool = True) -> None:
    """Record each reading of a step.

    Raises Refused where one makes no sense or, if it is to decide, its gauge decides nothing.
    A reading that goes with a stop is kept whatever the gauge is worth: it says what was seen.
    """
    entering = _Entering(desk, step, given, decides, GaugeDesk(desk.tx))
    for code in sorted(given.taken):
        entering.enter(code)
    entering.doubt()


@dataclass(slots=True)
class _Entering:
    desk: Desk
    step: int
    given: Readings
    decides: bool
    gauges: GaugeDesk
    doubted: dict[str, list[int]] = field(default_factory=dict)

    def enter(self, code: str) -> None:
        characteristic = self.desk.part.route.by_number[self.step].characteristic(code)
        if characteristic is None:
            raise Refused(f"step {self.step} reads no characteristic {code}")
        fact = self._fact(characteristic, self.given.taken[code])
        desk, given = self.desk, self.given
        entry = desk.record(fact, at_us=given.at_us, station=given.station)
        if fact.gauge and self.gauges.doubt_of(fact.gauge, entry.at_us):
            self.doubted.setdefault(fact.gauge, []).append(entry.seq)

    def doubt(self) -> None:
        """What was read before a check that failed since is suspect from the first."""
        for gauge, numbers in self.doubted.items():
            at_us = self.desk.part.last_at_us if self.given.at_us is None else self.given.at_us
            why = self.gauges.doubt_of(gauge, at_us)
            fact = facts.Doubted(readings=tuple(numbers), gauge=gauge, reason=why)
            self.desk.record(fact, station=self.given.station)

    def _fact(self, characteristic: Characteristic, taken: Taken) -> facts.Measured:
        kept = taken.counted()
        value = mean_of(kept) if taken.value is None and kept else taken.value
        if value is None or not math.isfinite(value):
            raise Refused(f"{characteristic.code} has no reading")
        gauge = self.given.gauge_of(characteristic, taken)
        return facts.Measured(
            step=self.step,
            characteristic=characteristic.code,
            value=value,
            unit=characteristic.unit,
            gauge=gauge,
            uncertainty=self._uncertainty(characteristic, gauge, taken, kept),
            repeats=taken.repeats,
            left_out=taken.left_out,
            fixture=taken.fixture,
            torque_n_m=taken.torque_n_m,
            temperature_c=taken.temperature_c,
            recording=taken.recording,
            reason=taken.reason or None,
        )

    def _uncertainty(
        self,
        characteristic: Characteristic,
        gauge: str | None,
        taken: Taken,
        kept: tuple[float, ...],
    ) -> float | None:
        of_gauge = self._of_gauge(characteristic, gauge)
        if taken.uncertainty is not None:
            return max(taken.uncertainty, of_gauge or 0.0)
        return standard_uncertainty(of_gauge, kept)

    def _of_gauge(self, characteristic: Characteristic, gauge: str | None) -> float | None:
        given_us = self.given.at_us
        at_us = self.desk.tx.now_us if given_us is None else given_us
        if self.decides:
            self.gauges.check_named(characteristic, gauge)
            return self.gauges.uncertainty(characteristic, gauge, at_us)
        try:
            return self.gauges.uncertainty(characteristic, gauge, at_us)
        except Refused:
            return None


def read_by_api(desk: Desk, fact: facts.Measured, at_us: int | None) -> facts.Measured:
    """A reading booked as a history row, with what its gauge is worth.

    It need not name a gauge, but one it names must be able to decide.
    """
    characteristic = _of_route(desk.part, fact)
    if characteristic is None or fact.gauge is None:
        return fact
    gauges = GaugeDesk(desk.tx)
    when_us = desk.tx.now_us if at_us is None else at_us
    return replace(fact, uncertainty=gauges.uncertainty(characteristic, fact.gauge, when_us))


def doubt_on_arrival(desk: Desk, fact: facts.Measured, entry: Entry) -> None:
    """Mark a late reading suspect whose gauge failed a check since it was taken."""
    why = GaugeDesk(desk.tx).doubt_of(fact.gauge, entry.at_us)
    if why is not None and fact.gauge is not None:
        desk.record(facts.Doubted(readings=(entry.seq,), gauge=fact.gauge, reason=why))


def _of_route(part: Part, fact: facts.Measured) -> Characteristic | None:
    step = part.route.by_number.get(fact.step) if part.card is not None else None
    return step.characteristic(fact.characteristic) if step else None


def last_of_visit(part: Part) -> dict[str, ReadingRow]:
    """Characteristic to the last reading of it in the open visit."""
    visit = part.open_visit
    if visit is None:
        return {}
    return {row.characteristic: row for row in part.readings if row.visit == visit.number}


def check_fully_read(part: Part) -> None:
    """Refuse a pass while a characteristic is unread, or its last reading is not accepted."""
    visit = part.open_visit
    assert visit is not None
    assert visit.step is not None
    step = part.route.by_number[visit.step]
    read = last_of_visit(part)
    unread = [c.code for c in step.characteristics if c.code not in read]
    if unread:
        raise Refused(f"not read yet: {', '.join(unread)}; read them, then pass")
    unsure = [
        c.code for c in step.characteristics if c.guarded and read[c.code].uncertainty is None
    ]
    if unsure:
        raise Refused(
            f"decided with a guard band, but read without an uncertainty: {', '.join(unsure)}; "
            "read with a gauge that is on the register"
        )
    told = [
        f"{words}: {', '.join(lying)}"
        for verdict, words in ((OUTSIDE, "outside its limits"), (GUARD, "in the guard band"))
        if (lying := [_told(c, read[c.code]) for c in step.characteristics
                      if c.verdict(read[c.code].value, read[c.code].uncertainty) == verdict])
    ]  # fmt: skip
    if told:
        raise Refused(f"{'; '.join(told)}. Rework it or stop it")


def _told(characteristic: Characteristic, row: ReadingRow) -> str:
    return f"{characteristic.code} {row.value:.{characteristic.decimals}f} {row.unit}"


def check_gauges_decide(desk: Desk) -> None:
    """Refuse to accept on readings that are suspect, or whose gauge decided nothing then."""
    gauges = GaugeDesk(desk.tx)
    for code, row in last_of_visit(desk.part).items():
        if row.suspect is not None:
            raise Refused(f"{code} is suspect: {row.suspect}. Read it again", code="suspect")
        past = gauges.past(row.gauge) if row.gauge else None
        if past is None:
            continue
        then = gauges.standing(past, row.at_us)
        if not then.decides:
            raise Refused(
                f"{code} was read with gauge {row.gauge}, which {then.why}; it decides "
                "nothing. Read it again with another",
                code="gauge",
            )
