"""What the pages below Yield share: how they answer, and what each shows whatever it asks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import Request
from starlette.responses import Response

from ringwright.kit.render import page
from ringwright.kit.sheets import Book
from ringwright.yields.asked import Asked, Links
from ringwright.yields.model import YieldSheet
from ringwright.yields.service import NoProduct

Shown = dict[str, Any]


def answered(request: Request, template: str, shown: Callable[[], Shown]) -> Response:
    """The page, or that there is no product to ask about yet."""
    try:
        return page(request, template, **shown())
    except NoProduct:
        return page(request, "yields/empty.html")


def framed(
    links: Links, sheet: YieldSheet, lists: Any, book: Book, terms: tuple[str, ...]
) -> Shown:
    """What every page below Yield shows: its answer, its figures and what they stand on."""
    asked: Asked = links.asked
    return {
        "sheet": sheet,
        "lists": lists,
        "links": links,
        "asked": asked,
        "terms": terms,
        "book": book,
    }
