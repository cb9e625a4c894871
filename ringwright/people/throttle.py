"""How often a secret may be tried: by whom it is for and from where, so that a stranger who
tries somebody's password shuts the door to the stranger, not to that person.

Counted in this process's memory. Only failures count.
"""

from __future__ import annotations

import math
import time
from typing import Final

from limits import RateLimitItem, RateLimitItemPerHour, RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

from ringwright.core.errors import RingwrightError

TRIES: Final = RateLimitItemPerMinute(10, 15)
"""Failed sign-ins of one account from one address."""
TRIES_OF_ADDRESS: Final = RateLimitItemPerMinute(60, 15)
"""Failed sign-ins from one address, whatever the account: a shop may stand behind one."""
TRIES_OF_STRANGERS: Final = RateLimitItemPerHour(100)
"""Failed sign-ins of one account from addresses it was never signed in from."""
SIGNATURES: Final = RateLimitItemPerMinute(5, 5)
"""Failed badges or PINs of one person at one bench."""
SIGNATURES_OF_BENCH: Final = RateLimitItemPerMinute(20, 5)
"""Failed badges or PINs at one bench, whoever."""
CODES: Final = RateLimitItemPerMinute(10, 15)
"""One-time codes that were none, from one address."""
SIGN_ONS: Final = RateLimitItemPerMinute(200, 15)
"""Sign-ons begun from one address, failed or not: each leaves a row for ten minutes."""


class TooOften(RingwrightError):
    """A secret was tried too often; the right one is not looked at either for a while."""

    status = 429
    code = "too-often"

    def __init__(self, wait_s: int) -> None:
        self.wait_s = wait_s
        minutes = math.ceil(wait_s / 60)
        super().__init__(f"tried too often; wait {minutes} min and try again")


def wait_of(trouble: object) -> int:
    """How long to wait, in seconds; 0 where nothing was tried too often."""
    return trouble.wait_s if isinstance(trouble, TooOften) else 0


class Throttle:
    """Failures so far; one for each running application."""

    def __init__(self) -> None:
        self._limiter = MovingWindowRateLimiter(MemoryStorage())

    def check(self, limit: RateLimitItem, *who: str) -> None:
        """Raise TooOften once the failures of `who` reached the limit."""
        if self._limiter.test(limit, *who):
            return
        free_at = self._limiter.get_window_stats(limit, *who).reset_time
        raise TooOften(max(1, math.ceil(free_at - time.time())))

    def failed(self, limit: RateLimitItem, *who: str) -> None:
        """Count one failure."""
        self._limiter.hit(limit, *who)

    def forget(self, limit: RateLimitItem, *who: str) -> None:
        """A success: that person at that place begins anew."""
        self._limiter.clear(limit, *who)
