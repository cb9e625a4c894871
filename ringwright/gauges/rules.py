"""Whether a gauge may decide at an instant, and which readings a failed check makes suspect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ringwright.core.conformity import (
    COARSEST,
    COVERAGE,
    Limits,
    at_least_resolution,
    exact,
    too_coarse,
)
from ringwright.sites.site import Gauge, Master

USABLE, OVERDUE, UNCALIBRATED = "in use", "overdue", "no calibration"
FAILED_CALIBRATION, FAILED_CHECK = "failed its calibration", "failed its check"
UNCHECKED, WITHDRAWN = "not checked this shift", "out of use"


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """One calibration on the record. Days are ISO dates, site time."""

    number: int
    on: str
    due: str
    good: bool
    at_us: int = 0
    uncertainty: float | None = None
    certificate: str = ""
    note: str = ""
    actor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One reading of a master on the record."""

    number: int
    at_us: int
    master: str
    good: bool
    value: float = 0.0
    expected: float = 0.0
    allowed: float = 0.0
    unit: str = ""
    actor: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugePast:
    """A gauge with what is known of it; checks in the order they happened."""

    gauge: Gauge
    calibrations: Sequence[Calibrated] = ()
    checks: Sequence[Checked] = ()
    masters: Sequence[Master] = ()
    """The masters in use for gauges of its kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """An instant as gauges are judged at it."""

    at_us: int
    day: str
    """The site's day it falls on, an ISO date."""
    since_us: int
    """When the shift that it falls in began; outside any, that day's midnight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a gauge stood at an instant."""

    state: str
    why: str = ""
    """The rest of a sentence that begins with its code; empty where it may decide."""
    due: str | None = None
    uncertainty: float | None = None
    """One standard uncertainty of a single reading, in its unit; None where not known."""

    @property
    def decides(self) -> bool:
        """True when its readings may decide."""
        return self.state == USABLE


def standing(past: GaugePast, moment: Moment) -> Standing:
    """How the gauge stands then: the first that speaks against it."""
    last = in_force(past.calibrations, moment.day)
    uncertainty = at_least_resolution(
        (last.uncertainty if last else None) or past.gauge.uncertainty, past.gauge.resolution
    )
    due = last.due if last else None
    state, why = _against(past, last, moment)
    return Standing(state=state, why=why, due=due, uncertainty=uncertainty)


def _against(past: GaugePast, last: Calibrated | None, moment: Moment) -> tuple[str, str]:
    if past.gauge.withdrawn:
        return WITHDRAWN, "is out of use"
    if last is None:
        return UNCALIBRATED, "has no calibration on record"
    if not last.good:
        return FAILED_CALIBRATION, f"failed its calibration on {last.on}"
    if moment.day > last.due:
        return OVERDUE, f"has been overdue for calibration since {day_after(last.due)}"
    return _of_check(past, moment)


def _of_check(past: GaugePast, moment: Moment) -> tuple[str, str]:
    before = [one for one in past.checks if one.at_us <= moment.at_us]
    if before and not before[-1].good:
        return FAILED_CHECK, f"failed its check on master {before[-1].master}"
    if past.masters and not any(one.at_us >= moment.since_us for one in before):
        names = " or ".join(sorted(one.code for one in past.masters))
        return UNCHECKED, f"has not been checked on master {names} in this shift"
    return USABLE, ""


def reads_in(gauge: Gauge, unit: str) -> bool:
    """True when the gauge reads in that unit; one without a unit reads in any."""
    return not gauge.unit or unit == gauge.unit or unit in gauge.also


def uncertainty_in(gauge: Gauge, now: Standing, unit: str) -> float | None:
    """One standard uncertainty of a reading in that unit; None where it is not known."""
    return now.uncertainty if unit == gauge.unit else gauge.also.get(unit)


def in_force(calibrations: Sequence[Calibrated], day: str) -> Calibrated | None:
    """The latest calibration on or before a day; of two on one day the later recorded."""
    known = [one for one in calibrations if one.on <= day]
    return max(known, key=lambda one: (one.on, one.number), default=None)


def last_good_calibration(calibrations: Sequence[Calibrated]) -> Calibrated | None:
    """The latest that found the gauge good."""
    good = [one for one in calibrations if one.good]
    return max(good, key=lambda one: (one.on, one.number), default=None)


def day_after(day: str) -> str:
    """The next day, as ISO dates."""
    return (date.fromisoformat(day) + timedelta(days=1)).isoformat()


def sound(value: float, master: Master) -> bool:
    """True when a gauge that reads this on the master is sound; the edge is sound.

    Taken in decimal: 10.3 less 10.0 is 0.3 and no more.
    """
    there, expected, allowed = exact(value), exact(master.value), exact(master.allowed)
    assert there is not None
    assert expected is not None
    assert allowed is not None
    return abs(there - expected) <= allowed


def last_good_before(checks: Sequence[Checked], at_us: int) -> Checked | None:
    """The last check before an instant that found the gauge sound."""
    good = [one for one in checks if one.good and one.at_us < at_us]
    return good[-1] if good else None


def first_good_after(checks: Sequence[Checked], at_us: int) -> Checked | None:
    """The first check after an instant that found the gauge sound."""
    return next((one for one in checks if one.good and one.at_us > at_us), None)


def failed_after(checks: Sequence[Checked], at_us: int) -> Checked | None:
    """The failed check that makes a reading of that instant suspect, if one does.

    It is the next check after the reading: a good one in between would clear it.
    """
    after = [one for one in checks if one.at_us > at_us]
    return after[0] if after and not after[0].good else None


def why_doubted(gauge: str, master: str) -> str:
    """Why readings are suspect, in the words that the record keeps."""
    return f"gauge {gauge} failed its check on master {master}"


def why_too_coarse(code: str, uncertainty: float, limits: Limits, unit: str) -> str | None:
    """Why a gauge may not judge a characteristic; None where it is fine enough."""
    if not too_coarse(uncertainty, limits):
        return None
    given = exact(uncertainty)
    assert given is not None
    expanded, side = COVERAGE * given, min(one for one in limits.sides() if one > 0)
    return (
        f"gauge {code} is too coarse: its expanded uncertainty {expanded:.3g} {unit} exceeds a "
        f"quarter ({COARSEST * side:.3g} {unit}) of the limit it judges"
    )
