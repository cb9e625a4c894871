"""The API's own description, with examples as they were written."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fastapi import APIRouter
from fastapi.routing import APIRoute


def with_examples(told: dict[str, Any], routers: Iterable[APIRouter]) -> dict[str, Any]:
    """The document with every example of an answer put back whole.

    FastAPI leaves nulls out of the document, those inside examples too; an example without a
    field that its schema requires would teach an answer which the API never gives.
    """
    for router in routers:
        for route in router.routes:
            if isinstance(route, APIRoute) and route.path_format in told["paths"]:
                for method in route.methods or ():
                    _put_back(told["paths"][route.path_format][method.lower()], route)
    return told


def _put_back(operation: dict[str, Any], route: APIRoute) -> None:
    for status, response in route.responses.items():
        for form, body in response.get("content", {}).items():
            operation["responses"][str(status)]["content"][form]["example"] = body["example"]
