"""How the API answers and how it says no, for its OpenAPI document."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, Final

from pydantic import BaseModel, Field

ANYWHERE: Final = (400, 413, 414, 421, 429, 431, 503)
"""What every operation may answer with before it is looked at: see `web/intake.py`."""


class Problem(BaseModel):
    """A refusal: a stable word for programs and a sentence for people."""

    error: str = Field(min_length=1, examples=["refused"])
    detail: str = Field(min_length=1, examples=["B-7 is on hold: survey failed"])


def answer(example: Any, status: int = 200) -> dict[int | str, dict[str, Any]]:
    """OpenAPI response of an operation that did what it was asked, with an example."""
    told = {"application/json": {"example": example}}
    return {status: {"description": HTTPStatus(status).phrase, "content": told}}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """OpenAPI responses of the refusals an operation may answer with."""
    words = {
        400: "The request is not readable",
        401: "No valid token",
        403: "Not allowed for this role or from this origin",
        404: "There is no such thing",
        409: "Somebody acted first, the key was used for another booking, or (`second-person`) "
        "a second person has to sign too",
        413: "More was sent than is taken",
        414: "The address is too long",
        421: "The name in `Host` is none of this server's",
        422: "The rules or the fields say no; nothing was stored",
        429: "Asked too often; `Retry-After` says when again",
        431: "The headers are too many or too long",
        503: "The record is out of reach for now",
    }
    return {
        status: {"model": Problem, "description": words[status]}
        for status in sorted({*ANYWHERE, *statuses})
    }
