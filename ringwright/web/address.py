"""What no address may hold, for every page and operation alike."""

from __future__ import annotations

from collections.abc import Iterator

from fastapi import Request
from fastapi.exceptions import RequestValidationError

NUL = "\x00"


async def plain_address(request: Request) -> None:
    """Raise RequestValidationError for a NUL in the path or query.

    No text of the record holds one, and PostgreSQL takes none even to compare with. It waits
    for nothing; were it no coroutine, every request would change threads for it.
    """
    holding = [
        {"loc": ("query", place), "msg": "no text holds a NUL character; leave it out"}
        for place, text in _texts(request)
        if NUL in text
    ]
    if holding:
        raise RequestValidationError(holding)


def _texts(request: Request) -> Iterator[tuple[str, str]]:
    yield "address", request.scope["path"]
    for name, text in request.query_params.multi_items():
        yield name.replace(NUL, "") or "query", name + text
