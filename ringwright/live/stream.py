"""Watches the record's last entry numbers and wakes whoever waits for them.

The one asynchronous corner: it holds no database session; the question runs in a thread.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections import Counter
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager, suppress
from typing import Final

from starlette.concurrency import run_in_threadpool

log = logging.getLogger("ringwright.live")

LOOK_EVERY_S: Final = 0.5
COMMENT_EVERY_S: Final = 15.0
MOST_STREAMS: Final = 500
ASK_EVERY_S: Final = 60.0
"""How often a stream asks whether its reader is still let in (ASVS 7.4.1)."""
MOST_OF_ONE: Final = 20
"""Streams that one address may hold; a page beyond asks by itself."""


class Watch:
    """One look every half second, however many pages are open."""

    def __init__(
        self,
        read_heads: Callable[[], Mapping[str, int]],
        look_every_s: float = LOOK_EVERY_S,
        comment_every_s: float = COMMENT_EVERY_S,
        most_streams: int = MOST_STREAMS,
        ask_every_s: float = ASK_EVERY_S,
    ) -> None:
        self._read_heads = read_heads
        self._look_every_s = look_every_s
        self._comment_every_s = comment_every_s
        self._ask_every_s = ask_every_s
        self.most_streams = most_streams
        self.streams = 0
        self.holders: Counter[str] = Counter()
        self.heads: dict[str, int] = {}
        self._stirred: asyncio.Event = asyncio.Event()
        self._closing = False

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Keep watch for the length of the block."""
        self._stirred, self._closing = asyncio.Event(), False
        task = asyncio.create_task(self._look_on())
        try:
            yield
        finally:
            self.close()
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task

    def close(self) -> None:
        """End all streams; a page then asks by itself until the server is back."""
        self._closing = True
        self._stir()

    async def _look_on(self) -> None:
        while True:
            try:
                heads = dict(await run_in_threadpool(self._read_heads))
            except Exception:
                # The store may be away for a while; the pages find out by their own asking.
                log.warning("cannot read the last entry numbers", exc_info=True)
            else:
                if heads != self.heads:
                    self.heads = heads
                    self._stir()
            await asyncio.sleep(self._look_every_s)

    def _stir(self) -> None:
        """Wake all waiters once; the next waiters get a fresh event."""
        stirred, self._stirred = self._stirred, asyncio.Event()
        stirred.set()

    def full(self, holder: str = "") -> bool:
        """True when no further stream can be held, in all or for this holder."""
        return self.streams >= self.most_streams or self.holders[holder] >= MOST_OF_ONE

    async def messages(
        self, site: str | None, holder: str = "", still: Callable[[], bool] = lambda: True
    ) -> AsyncIterator[str]:
        """The stream of one page: a first word at once, then one at each new entry.

        `still` is asked once a minute whether whoever looks may still look; else it ends.
        """
        self.streams += 1
        self.holders[holder] += 1
        try:
            told: int | None = None
            asked_s = time.monotonic()
            while not self._closing:
                if time.monotonic() - asked_s >= self._ask_every_s:
                    asked_s = time.monotonic()
                    if not await run_in_threadpool(still):
                        return
                stirred = self._stirred
                seq = self._seq(site)
                if seq != told:
                    told = seq
                    yield f"event: ledger\nid: {seq}\ndata: {site or ''}\n\n"
                    continue
                with suppress(TimeoutError):
                    await asyncio.wait_for(
                        stirred.wait(), min(self._comment_every_s, self._ask_every_s)
                    )
                    continue
                yield ": still here\n\n"
        finally:
            self.streams -= 1
            self.holders -= Counter((holder,))

    def _seq(self, site: str | None) -> int:
        """The last entry number of the site; of all sites together when none is named."""
        return sum(self.heads.values()) if site is None else self.heads.get(site, 0)
