"""The event stream of open pages."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse, Response, StreamingResponse

from ringwright.kit.address import client_address
from ringwright.live.stream import Watch

router = APIRouter(include_in_schema=False)


@router.get("/live", name="live.stream")
async def stream(request: Request, site: str | None = None) -> Response:
    """Says `ledger` at each new entry; carries no figures: the page asks for those itself."""
    watch: Watch = request.app.state.watch
    who_asks = request.app.state.visitor_of
    holder = client_address(request)
    if watch.full(holder):
        return PlainTextResponse("too many streams", 503, headers={"Retry-After": "30"})
    return StreamingResponse(
        watch.messages(site, holder, lambda: who_asks(request) is not None),
        media_type="text/event-stream",
        # A proxy that gathers the stream would make every page late.
        headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
    )
