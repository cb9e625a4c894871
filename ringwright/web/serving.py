"""The server process: open streams end first, so that stopping is quick and clean."""

from __future__ import annotations

import socket

import uvicorn
from fastapi import FastAPI


class Serving(uvicorn.Server):
    """Serves on this machine only: signing in comes later."""

    def __init__(self, app: FastAPI, port: int, log_level: str = "warning") -> None:
        self.app = app
        super().__init__(
            uvicorn.Config(
                app,
                host="127.0.0.1",
                port=port,
                log_level=log_level,
                timeout_graceful_shutdown=3,
            )
        )

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let every open page know that the stream is over, then stop as usual."""
        self.app.state.watch.close()
        await super().shutdown(sockets)
