"""Pages and fragments: Jinja2 with the reader's language, strict about what is missing."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote, urlencode

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import NoMatchFound

from ringwright.core.errors import Missing
from ringwright.core.glossary import meaning
from ringwright.kit.about import practice
from ringwright.kit.files import csv_of, file_name, xlsx_of
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import Book, plain
from ringwright.kit.words import Words, asked_language, words_of

MEDIA: Final = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
"""The forms of a file and how each is named on the wire."""
ROOT: Final = Path(__file__).parent.parent
TEMPLATES: Final = ROOT / "templates"
STATIC: Final = ROOT / "static"


@dataclass(frozen=True, kw_only=True)
class PageName:
    """A page as named on the head line: the route that serves it, its name, its room."""

    route: str
    label: str


@dataclass(frozen=True, kw_only=True)
class ScanPlace:
    """Where a scan from any page leads: a route that takes the text in a query field."""

    route: str
    field: str


@dataclass(frozen=True, kw_only=True)
class Nav:
    """The names on the head line and the place of scans."""

    names: tuple[PageName, ...]
    scan: ScanPlace | None
    home: str


@lru_cache(maxsize=8)
def environment(tag: str) -> Environment:
    """The templates in one language."""
    words = words_of(tag)
    env = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    env.install_gettext_translations(words.catalogue, newstyle=True)  # type: ignore[attr-defined]
    env.globals.update(
        words=words,
        show=Figures(tag),
        static=static_url,
        plain=plain,
        meaning=lambda term: meaning(term, words.catalogue.gettext),
    )
    return env


def words_for(request: Request) -> Words:
    """The words in the language that the reader's browser asks for."""
    return words_of(_tag(request))


def figures_for(request: Request) -> Figures:
    """Figures in the manner of the reader's language."""
    return environment(_tag(request)).globals["show"]  # type: ignore[return-value]


def wants_fragment(request: Request) -> bool:
    """True when a panel asks for itself; the Back button asks for a page."""
    headers = request.headers
    restores = headers.get("HX-History-Restore-Request") == "true"
    return headers.get("HX-Request") == "true" and not restores


def page(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """A whole page from `templates/<room>/<name>.html`."""
    return _answer(request, template, status, context)


def fragment(
    request: Request, template: str, *, status: int = 200, **context: Any
) -> HTMLResponse:
    """A piece of a page from `templates/<room>/_<name>.html`: one root element with an id."""
    return _answer(request, template, status, context)


def file_answer(request: Request, book: Book, form: str, sheet: str | None = None) -> Response:
    """The figures of a page as a file to keep; raises Missing for no such form or sheet."""
    if form not in MEDIA:
        raise Missing(f"no file of the form {form!r}; there are csv and xlsx")
    words, about = words_for(request), practice()
    if about is not None:
        book = replace(book, practice=about.site)
    body = csv_of(book, sheet, words) if form == "csv" else xlsx_of(book, words)
    name = file_name(book, form, sheet if form == "csv" else None)
    headers = {
        "Content-Disposition": f'attachment; filename="{name}"',
        "Content-Language": words.tag,
        "Vary": "Accept-Language",
        "Cache-Control": "no-store",
    }
    return Response(body, media_type=MEDIA[form], headers=headers)


def path_for(request: Request, route: str, **values: Any) -> str:
    """The address of a route; values it has no place for become its query, None leaves out.

    The site asked for stays in every address.
    """
    places = _places(request, route)
    # A code may hold what means something in an address: a slash, a question mark, a percent.
    told = {k: quote(str(v), safe="") for k, v in values.items() if k in places}
    path = request.app.url_path_for(route, **told)
    query = {k: v for k, v in values.items() if k not in places and v is not None}
    if request.query_params.get("site"):
        query.setdefault("site", request.query_params["site"])
    root = str(request.scope.get("root_path", "")).rstrip("/")
    return root + str(path) + (f"?{urlencode(query)}" if query else "")


@lru_cache(maxsize=256)
def static_url(path: str) -> str:
    """The address of a static file, with its content's digest so that browsers may keep it."""
    file = STATIC / path
    digest = hashlib.sha256(file.read_bytes()).hexdigest()[:10] if file.is_file() else "0"
    return f"/static/{path}?v={digest}"


def _tag(request: Request) -> str:
    return asked_language(
        request.headers.get("Accept-Language", ""), request.app.state.settings.locale
    )


def _answer(
    request: Request, template: str, status: int, context: dict[str, Any]
) -> HTMLResponse:
    tag = _tag(request)
    html = environment(tag).get_template(template).render({**_frame(request), **context})
    return HTMLResponse(
        html,
        status_code=status,
        headers={
            # One address answers pages and fragments, in several languages, never from a cache.
            "Vary": "HX-Request, Accept-Language",
            "Cache-Control": "no-store",
            "Content-Language": tag,
        },
    )


def _frame(request: Request) -> dict[str, Any]:
    """What the frame of every page needs."""
    nav: Nav = request.app.state.nav
    words = words_for(request)
    link: Callable[..., str] = lambda route, **values: path_for(request, route, **values)  # noqa: E731
    return {
        "request": request,
        "url_for": link,
        "practice": practice(),
        "site_param": request.query_params.get("site", ""),
        "home": link(nav.home),
        "names": [
            {"url": link(n.route), "label": words._(n.label), "here": _is_here(request, n)}
            for n in nav.names
        ],
        "signed_on": getattr(request.state, "visitor", None),
        "screen_may": _may_of(request),
        "scan": nav.scan and {"url": link(nav.scan.route), "field": nav.scan.field},
    }


def _may_of(request: Request) -> Callable[[str], bool]:
    """Whether whoever looks may do something: what leads to shut doors is not drawn."""
    visitor = getattr(request.state, "visitor", None)
    return lambda permission: visitor is not None and bool(visitor.may(permission))


def _is_here(request: Request, name: PageName) -> bool:
    """A page is where its route is, or another route of the same room."""
    here = getattr(request.scope.get("route"), "name", "")
    return str(here).split(".")[0] == name.route.split(".")[0]


def _places(request: Request, route: str) -> frozenset[str]:
    places: frozenset[str] | None = request.app.state.route_places.get(route)
    if places is None:
        raise NoMatchFound(route, {})
    return places
