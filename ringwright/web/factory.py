"""Builds the application from the rooms that an installation has."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module
from importlib.util import find_spec
from typing import Any, Final

from fastapi import APIRouter, FastAPI
from starlette.middleware.gzip import GZipMiddleware
from starlette.routing import Route
from starlette.staticfiles import StaticFiles

from ringwright.assembly import ledger_of
from ringwright.core.glossary import GLOSSARY
from ringwright.kit.render import STATIC
from ringwright.ledger.service import Ledger
from ringwright.live.stream import Watch
from ringwright.people.throttle import Throttle
from ringwright.people.visitor import visitor_of, who_takes_files
from ringwright.settings import Settings
from ringwright.web import errors, gate, health, nav
from ringwright.web.document import with_examples
from ringwright.web.exports import Exports
from ringwright.web.intake import Intake
from ringwright.web.practice import PracticeMark
from ringwright.web.security import Guard

ROOMS: Final = (
    "flow", "floor", "bench", "yields", "spread", "queues", "trace", "sets", "starts", "find",
    "gauges", "heatruns", "wallmaps", "weldmaps", "weldyield", "swarf",
    "report", "weighing", "paper", "handover", "ringtest",
    "ground", "attachments", "parts", "routecards", "sites", "people", "live", "caseshop",
)  # fmt: skip
"""Rooms that serve pages or an API: `pages.py` and `api.py` of each, where it has them."""


class Application(FastAPI):
    """The application, with an OpenAPI document whose examples hold."""

    def openapi(self) -> dict[str, Any]:
        """The document, made at the first question."""
        if self.openapi_schema is None:
            self.openapi_schema = with_examples(super().openapi(), self.state.routers)
        return self.openapi_schema


def create_app(settings: Settings, ledger: Ledger | None = None) -> FastAPI:
    """The application on the store of the settings; a test may bring its own ledger."""
    record = ledger or ledger_of(settings)
    pages, apis = room_routers("pages"), room_routers("api")
    routers = [*pages, *apis, health.router]
    app = Application(
        title="Ringwright",
        summary="One true record of a cell's parts.",
        description=_words(),
        lifespan=_lifespan,
        openapi_url="/api/openapi.json",
        # The stock viewers load their scripts from elsewhere; no page here asks outside.
        docs_url=None,
        redoc_url=None,
    )
    app.state.settings = settings
    app.state.ledger = record
    app.state.routers = routers
    app.state.watch = Watch(record.heads)
    app.state.throttle = Throttle()
    app.state.sign_on = _sign_on(settings)
    app.state.visitor_of = visitor_of
    for router in (*pages, health.router):
        app.include_router(router, dependencies=gate.PAGES)
    for router in apis:
        app.include_router(router, dependencies=gate.API)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.state.route_places = route_places(routers)
    app.state.nav = nav.nav_of(app.state.route_places)
    errors.install(app)
    app.add_middleware(GZipMiddleware, minimum_size=1024)
    app.add_middleware(Exports, a_minute=settings.exports_a_minute, asker=who_takes_files)
    app.add_middleware(Intake, hosts=settings.names)
    app.add_middleware(gate.Renewing)
    app.add_middleware(Guard)
    app.add_middleware(PracticeMark)
    return app


def _sign_on(settings: Settings) -> Any:
    """The shop's sign-on server; its libraries are loaded only where one is set."""
    if settings.sign_on_issuer is None:
        return None
    from ringwright.people.provider import provider_of

    return provider_of(settings)


def _words() -> str:
    """The glossary, so that a program's author reads the words as the pages mean them."""
    return "\n".join(f"- **{word}**: {meaning}" for word, meaning in GLOSSARY.items())


def room_routers(*parts: str) -> list[APIRouter]:
    """The routers of all rooms: of their `pages`, of their `api`, or both, pages first."""
    found: list[APIRouter] = []
    for room in ROOMS:
        for part in parts or ("pages", "api"):
            name = f"ringwright.{room}.{part}"
            if find_spec(f"ringwright.{room}") and find_spec(name):
                found.append(import_module(name).router)
    return found


def route_places(routers: list[APIRouter]) -> dict[str, frozenset[str]]:
    """Route name to the names of the places in its path."""
    return {
        route.name: frozenset(route.param_convertors)
        for router in routers
        for route in router.routes
        if isinstance(route, Route)
    }


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    """The watcher of the record runs while the server does."""
    async with app.state.watch.running():
        yield
