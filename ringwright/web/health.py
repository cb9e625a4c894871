"""Is the server alive, and can it serve: for whatever watches it."""

from __future__ import annotations

import logging

from fastapi import APIRouter, Request
from sqlalchemy.exc import SQLAlchemyError
from starlette.responses import JSONResponse

router = APIRouter(tags=["health"])
log = logging.getLogger("ringwright.web")


@router.get("/healthz", name="health.alive")
def alive() -> JSONResponse:
    """The server answers."""
    return JSONResponse({"status": "alive"})


@router.get("/readyz", name="health.ready")
def ready(request: Request) -> JSONResponse:
    """The server reaches its record."""
    try:
        heads = request.app.state.ledger.heads(practice=False)
    except SQLAlchemyError:
        log.exception("the record is out of reach")
        return JSONResponse({"status": "not ready"}, status_code=503)
    return JSONResponse({"status": "ready", "sites": len(heads)})
