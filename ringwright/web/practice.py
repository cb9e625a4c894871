"""Every answer about a practice site says so to programs, too."""

from __future__ import annotations

from typing import Final

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ringwright.kit.about import asking

HEADER: Final = "Ringwright-Practice"


class PracticeMark:
    """Keeps note of which site each answer is about; marks the answers about practice."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; the header is set once the site is known."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        with asking() as about:

            async def send_marked(message: Message) -> None:
                if message["type"] == "http.response.start" and about.practice is not None:
                    MutableHeaders(scope=message)[HEADER] = "yes"
                await send(message)

            await self.app(scope, receive, send_marked)
