"""What the reader gets when something is refused or breaks: a page, or JSON under /api."""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from ringwright.core.errors import RingwrightError, SecondNeeded
from ringwright.core.glossary import N_
from ringwright.kit.render import fragment, page, wants_fragment
from ringwright.people.asking import ask_signature, ask_to_sign_in
from ringwright.people.confirming import ConfirmationNeeded
from ringwright.people.throttle import wait_of
from ringwright.people.visitor import SignInNeeded, say_when
from ringwright.web.security import is_api

log = logging.getLogger("ringwright.web")

LONGEST = 18_000
"""Letters of a refusal's detail; a 4xx under /api stays below 20,000 bytes."""

HEADINGS = {
    401: N_("Sign in first"),
    403: N_("Not allowed"),
    404: N_("Not found"),
    405: N_("Not possible here"),
    409: N_("Somebody was first"),
    413: N_("Too large"),
    422: N_("Not done"),
    429: N_("Too often"),
    503: N_("The record is out of reach"),
}


def install(app: FastAPI) -> None:
    """Teach the application its refusals."""
    app.add_exception_handler(SignInNeeded, _nobody)
    app.add_exception_handler(ConfirmationNeeded, _unsigned)
    app.add_exception_handler(SecondNeeded, _second)
    app.add_exception_handler(RingwrightError, _refused)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _broken)


def refusal(request: Request, status: int, code: str, detail: str) -> Response:
    """A refusal in the form the asker reads: JSON by path, a fragment, or a page."""
    if is_api(request.url.path):
        return JSONResponse({"error": code, "detail": _cut(detail)}, status_code=status)
    told = {
        "heading": HEADINGS.get(status, N_("Not done")),
        "why": detail,
        # After a fault nobody here knows whether the booking was kept.
        "sure": status < 500,
    }
    if wants_fragment(request):
        return fragment(request, "web/_error.html", status=status, **told)
    return page(request, "web/error.html", status=status, **told)


def _cut(detail: str) -> str:
    encoded = detail.encode("utf-8", "replace")
    # Decoded again in any case: half a letter in what was sent must not break the refusal.
    return encoded[:LONGEST].decode("utf-8", "ignore") or "refused"


def _refused(request: Request, trouble: Exception) -> Response:
    assert isinstance(trouble, RingwrightError)
    answer = refusal(request, trouble.status, trouble.code, trouble.message)
    return say_when(answer, wait_of(trouble))


def _nobody(request: Request, trouble: Exception) -> Response:
    """Nobody is signed in: the sign-in page, or a word beside what was typed."""
    assert isinstance(trouble, SignInNeeded)
    return ask_to_sign_in(request)


def _unsigned(request: Request, trouble: Exception) -> Response:
    """The act waits for a badge or PIN; what was sent is kept in the page that asks."""
    assert isinstance(trouble, ConfirmationNeeded)
    answer = ask_signature(request, trouble.whose, trouble.why, trouble.status)
    return say_when(answer, trouble.wait_s)


def _second(request: Request, trouble: Exception) -> Response:
    """The act waits for a second person."""
    assert isinstance(trouble, SecondNeeded)
    if is_api(request.url.path):
        return refusal(request, trouble.status, trouble.code, trouble.message)
    return ask_signature(
        request,
        "second",
        "",
        trouble.status,
        what=trouble.message,
        permission=trouble.permission,
    )


def _malformed(request: Request, trouble: Exception) -> Response:
    assert isinstance(trouble, RequestValidationError)
    return refusal(request, 422, "malformed", "; ".join(map(_plain, trouble.errors()[:20])))


def _plain(problem: dict[str, Any]) -> str:
    where = ".".join(str(piece) for piece in problem["loc"][1:] or problem["loc"])
    return f"{where}: {problem['msg']}"[:400]


def _http(request: Request, trouble: Exception) -> Response:
    assert isinstance(trouble, HTTPException)
    code = HTTPStatus(trouble.status_code).phrase.lower().replace(" ", "-")
    answer = refusal(request, trouble.status_code, code, str(trouble.detail) or code)
    answer.headers.update(trouble.headers or {})
    return answer


def _broken(request: Request, trouble: Exception) -> Response:
    """A fault of the program: logged in full, told in one sentence, without its insides."""
    log.error("fault while answering %s", request.url.path, exc_info=trouble)
    detail = (
        "Something failed here. Nothing is booked unless you see its entry number; ask again."
    )
    return refusal(request, 500, "fault", detail)
