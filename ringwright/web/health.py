"""Is the server alive, and can it serve: for whatever watches it."""

from __future__ import annotations

import logging
from typing import Any, Final

from fastapi import APIRouter, Request
from pydantic import BaseModel
from sqlalchemy.exc import SQLAlchemyError
from starlette.responses import JSONResponse

from ringwright.kit.problems import answer

OPEN: Final[dict[str, Any]] = {"security": []}
"""For whatever watches the server: asked without a token."""
UNREADY: Final = {"status": "not ready"}

router = APIRouter(tags=["health"])
log = logging.getLogger("ringwright.web")


class Standing(BaseModel):
    """What the server says of itself."""

    status: str
    sites: int | None = None


@router.get(
    "/healthz",
    name="health.alive",
    summary="Is the server alive",
    openapi_extra=OPEN,
    response_model=Standing,
    responses=answer({"status": "alive"}),
)
def alive() -> JSONResponse:
    """The server answers."""
    return JSONResponse({"status": "alive"})


@router.get(
    "/readyz",
    name="health.ready",
    summary="Can the server serve",
    openapi_extra=OPEN,
    response_model=Standing,
    responses={
        **answer({"status": "ready", "sites": 1}),
        503: {
            "model": Standing,
            "description": "The record is out of reach",
            "content": {"application/json": {"example": UNREADY}},
        },
    },
)
def ready(request: Request) -> JSONResponse:
    """The server reaches its record."""
    try:
        heads = request.app.state.ledger.heads(practice=False)
    except SQLAlchemyError:
        log.exception("the record is out of reach")
        return JSONResponse(UNREADY, status_code=503)
    return JSONResponse({"status": "ready", "sites": len(heads)})
