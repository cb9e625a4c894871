"""What the envelope would have said of past runs: how early, and how often in vain.

Each run is compared with the envelope of the met runs that had ended before it began, as the
shop would have known them then: nothing of the run itself, nor of any later one, is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from ringwright.core.proportion import wilson
from ringwright.heat.envelope import (
    FEWEST_RUNS,
    MOST_RUNS,
    Departure,
    Envelope,
    departure_of_minutes,
    envelope_of_minutes,
)
from ringwright.heat.minutes import minute_by_minute
from ringwright.heat.trace import Trace

EARLY, LATE, MISSED = "early", "late", "missed"
"""Of a bad run: flagged before its limit broke, only then or later, not at all."""
QUIET, FALSE_ALARM = "quiet", "false alarm"
"""Of a good run."""
TOO_FEW: Final = "too few runs"
"""Not compared: fewer than ten met runs were over when it began."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PastRun:
    """A run that is over, and what the judge made of it."""

    run: str
    began_us: int
    ended_us: int
    trace: Trace
    """From its beginning on, without the thermocouples that failed."""
    met: bool
    limit_min: float | None = None
    """Minutes since it began until the first limit broke; None of a met run, or where what
    was missed is no moment (a soak that stayed too short)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One run and what the envelope of its day would have said."""

    run: str
    met: bool
    outcome: str
    past_runs: int
    """Met runs that the envelope was made of; 0 where there were too few."""
    expected_false_alarms: float | None
    """Share of good runs that this envelope was to flag."""
    departure: Departure | None
    early_min: float | None
    """Minutes from the flag to the broken limit, negative where the flag came later; None
    where there was no flag, or no moment at which a limit broke."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BackTest:
    """All runs compared, and the sums that a manager asks for."""

    runs: tuple[Compared, ...]
    """In the order in which they began."""

    def count(self, outcome: str) -> int:
        """Runs of that outcome."""
        return sum(one.outcome == outcome for one in self.runs)

    @property
    def good(self) -> int:
        """Good runs that could be compared."""
        return self.count(QUIET) + self.count(FALSE_ALARM)

    @property
    def bad(self) -> int:
        """Bad runs that could be compared."""
        return self.count(EARLY) + self.count(LATE) + self.count(MISSED)

    @property
    def false_alarm_ratio(self) -> float | None:
        """Share of the good runs that were flagged; None where there is none."""
        return self.count(FALSE_ALARM) / self.good if self.good else None

    @property
    def false_alarm_interval(self) -> tuple[float, float] | None:
        """Wilson 95 % interval of that share."""
        return wilson(self.count(FALSE_ALARM), self.good) if self.good else None

    @property
    def expected_false_alarm_ratio(self) -> float | None:
        """What the envelopes said beforehand, as a mean over the good runs."""
        said = [one.expected_false_alarms for one in self.runs if one.met]
        known = [one for one in said if one is not None]
        return sum(known) / len(known) if known else None

    @property
    def caught_ratio(self) -> float | None:
        """Share of the bad runs that were flagged before their limit broke."""
        return self.count(EARLY) / self.bad if self.bad else None

    @property
    def caught_interval(self) -> tuple[float, float] | None:
        """Wilson 95 % interval of that share."""
        return wilson(self.count(EARLY), self.bad) if self.bad else None

    @property
    def median_early_min(self) -> float | None:
        """Of the bad runs flagged early, minutes won before the limit broke; None without."""
        won = [one.early_min for one in self.runs if one.outcome == EARLY]
        known = [one for one in won if one is not None]
        return median(known) if known else None


def back_test(runs: Sequence[PastRun]) -> BackTest:
    """Walk through the runs of one recipe forward in time, each with what was known then.

    They may come in any order. A bad run that was flagged counts as caught early where the
    flag came before its limit broke, and where no limit broke at a moment; some of those are
    mere chance, about as many as good runs are flagged.
    """
    in_time = sorted(runs, key=lambda one: (one.began_us, one.run))
    laid_out = [minute_by_minute(one.trace) for one in in_time]
    met = [place for place, one in enumerate(in_time) if one.met]
    met.sort(key=lambda place: in_time[place].ended_us)
    known: list[int] = []
    envelope: Envelope | None = None
    compared = []
    for run, minutes in zip(in_time, laid_out, strict=True):
        over = [place for place in met if in_time[place].ended_us <= run.began_us][-MOST_RUNS:]
        if over != known and len(over) >= FEWEST_RUNS:
            known, envelope = over, envelope_of_minutes([laid_out[one] for one in over])
        departure = departure_of_minutes(minutes, envelope) if envelope else None
        compared.append(_compared(run, envelope, departure))
    return BackTest(runs=tuple(compared))


def _compared(run: PastRun, envelope: Envelope | None, departure: Departure | None) -> Compared:
    limit = None if run.met else run.limit_min
    early = None if departure is None or limit is None else limit - departure.minute
    return Compared(
        run=run.run,
        met=run.met,
        outcome=_outcome(run.met, envelope, departure, early),
        past_runs=envelope.runs if envelope else 0,
        expected_false_alarms=envelope.false_alarms if envelope else None,
        departure=departure,
        early_min=early,
    )


def _outcome(
    met: bool, envelope: Envelope | None, departure: Departure | None, early: float | None
) -> str:
    if envelope is None:
        return TOO_FEW
    if met:
        return QUIET if departure is None else FALSE_ALARM
    if departure is None:
        return MISSED
    return EARLY if early is None or early > 0 else LATE
