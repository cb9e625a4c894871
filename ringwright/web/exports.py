"""Files are costly to make: one at a time for each asker, and so many a minute."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil
from time import time
from typing import Final

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import FixedWindowRateLimiter
from starlette.requests import HTTPConnection, Request
from starlette.types import ASGIApp, Receive, Scope, Send

from ringwright.kit.address import client_address
from ringwright.web.errors import refusal

USUAL_A_MINUTE: Final = 30
AGAIN_S: Final = 2
"""When to ask again while a file is being made."""

Asker = Callable[[HTTPConnection], str]


class Exports:
    """Holds back whoever takes files faster than a person reads them (ASVS 2.4.1, 15.2.2).

    Kept in this process, as there is one: after a restart everybody begins anew.
    """

    def __init__(
        self,
        app: ASGIApp,
        a_minute: int = USUAL_A_MINUTE,
        asker: Asker = client_address,
    ) -> None:
        self.app = app
        self.most = RateLimitItemPerMinute(a_minute)
        self.asker = asker
        self.pace = FixedWindowRateLimiter(MemoryStorage())
        self.busy: set[str] = set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer 429 to whoever asks too often, else pass it on."""
        if scope["type"] != "http" or not is_export(scope["path"]):
            await self.app(scope, receive, send)
            return
        who = self.asker(HTTPConnection(scope))
        told, wait_s = self._why_not(who)
        if told:
            answer = refusal(Request(scope), 429, "too-often", told)
            answer.headers["Retry-After"] = str(wait_s)
            await answer(scope, receive, send)
            return
        self.busy.add(who)
        try:
            await self.app(scope, receive, send)
        finally:
            self.busy.discard(who)

    def _why_not(self, who: str) -> tuple[str, int]:
        """(why no file is made now, when to ask again [s]); empty when one may be."""
        if who in self.busy:
            return "a file of yours is being made; take the next one when it is there", AGAIN_S
        if self.pace.hit(self.most, who):
            return "", 0
        wait_s = max(1, ceil(self.pace.get_window_stats(self.most, who).reset_time - time()))
        told = f"{self.most.amount} files a minute are enough; ask again in {wait_s} s"
        return told, wait_s


def is_export(path: str) -> bool:
    """True for the address of a file: each page has its own at `/file.csv`, `/file.xlsx`."""
    return path.rpartition("/")[2].startswith("file.")
