"""The server process: open streams end first, so that stopping is quick and clean."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Sequence
from typing import Final

import h11
import uvicorn
from fastapi import FastAPI
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S: Final = 15
"""How long a request's head may take to arrive."""
BODY_S: Final = 120
"""How long its body may take: the largest file over a slow line."""
MOST_CONNECTIONS: Final = 900
"""Below the 1024 open files that a process usually may have."""


class Punctual(H11Protocol):
    """A connection whose request must arrive in time; the server's own waits for ever.

    A hundred clients that send a byte at a time would else hold a hundred connections.
    """

    _due: asyncio.TimerHandle | None = None
    _in_body = False

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Wait for a head."""
        super().connection_made(transport)
        self._wait(HEAD_S)

    def data_received(self, data: bytes) -> None:
        """Wait for what is still lacking of the request."""
        super().data_received(data)
        state = self.conn.their_state
        if state is h11.SEND_BODY:
            if not self._in_body:
                self._wait(BODY_S)
        elif state is not h11.IDLE:
            self._wait(None)
        elif self._in_body or self._due is None:
            self._wait(HEAD_S)
        self._in_body = state is h11.SEND_BODY

    def connection_lost(self, exc: Exception | None) -> None:
        """Nothing more to wait for."""
        self._wait(None)
        super().connection_lost(exc)

    def _wait(self, seconds: float | None) -> None:
        if self._due is not None:
            self._due.cancel()
        self._due = None if seconds is None else self.loop.call_later(seconds, self._too_late)

    def _too_late(self) -> None:
        self._due = None
        if not self.transport.is_closing():
            self.transport.close()


class Serving(uvicorn.Server):
    """Serves on this machine only; a proxy on it may stand in front."""

    def __init__(
        self, app: FastAPI, port: int, log_level: str = "warning", proxies: Sequence[str] = ()
    ) -> None:
        self.app = app
        trusted = proxies or app.state.settings.proxies
        super().__init__(
            uvicorn.Config(
                app,
                host="127.0.0.1",
                port=port,
                http=Punctual,
                ws="none",
                log_level=log_level,
                # Its own handlers would write what `web/logs.py` keeps out; nothing of a
                # request is written where all goes well.
                log_config=None,
                access_log=False,
                server_header=False,
                forwarded_allow_ips=list(trusted),
                limit_concurrency=MOST_CONNECTIONS,
                timeout_keep_alive=5,
                timeout_graceful_shutdown=3,
            )
        )

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let every open page know that the stream is over, then stop as usual."""
        self.app.state.watch.close()
        await super().shutdown(sockets)
