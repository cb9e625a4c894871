"""How much work a search may do, who watches it, and who may stop it.

The work is set by the effort, so that the same question has the same answer on any machine;
the clock is only a ceiling, and an answer that met it says so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

LEAST_EFFORT, USUAL_EFFORT, MOST_EFFORT = 1, 3, 5


class Stopped(Exception):
    """Somebody stopped the search, or its time was up; the best so far stands."""


def _never() -> bool:
    return False


def _unheard(_done: float, _what: str, _best: Any) -> None:
    return None


@dataclass(slots=True, kw_only=True)
class Work:
    """One search's allowance. `clock` answers seconds, from any beginning."""

    effort: int = USUAL_EFFORT
    seed: int = 1
    clock: Callable[[], float]
    seconds: float | None = None
    """Ceiling from `begun`; None: none."""
    stop_asked: Callable[[], bool] = _never
    report: Callable[[float, str, Any], None] = _unheard
    """Told (share done 0 to 1, what is being done, the best so far or None) now and then."""
    begun: float = field(init=False)
    stopped_early: bool = False

    def __post_init__(self) -> None:
        self.begun = self.clock()

    @property
    def gone_s(self) -> float:
        """Seconds since it began."""
        return self.clock() - self.begun

    def over(self) -> bool:
        """True when the search must end now; remembers that it was cut short."""
        if self.stopped_early:
            return True
        late = self.seconds is not None and self.gone_s >= self.seconds
        if late or self.stop_asked():
            self.stopped_early = True
        return self.stopped_early
