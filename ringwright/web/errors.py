"""What the reader gets when something is refused or breaks: a page, or JSON under /api."""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from sqlalchemy.exc import InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnection
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

from ringwright.core.errors import RingwrightError, SecondNeeded
from ringwright.core.glossary import N_
from ringwright.kit.render import fragment, page, wants_fragment
from ringwright.people.asking import ask_signature, ask_to_sign_in
from ringwright.people.confirming import ConfirmationNeeded
from ringwright.people.deps import SECOND, has_token, no_token
from ringwright.people.rules import PERMISSIONS
from ringwright.people.throttle import wait_of
from ringwright.people.visitor import SignInNeeded, say_when
from ringwright.web.security import dress, is_api

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
    414: N_("Too large"),
    422: N_("Not done"),
    429: N_("Too often"),
    431: N_("Too large"),
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
    for away in (OperationalError, InterfaceError, NoConnection):
        app.add_exception_handler(away, _out_of_reach)
    app.add_exception_handler(ClientDisconnect, _gone)
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
    """The act waits for a second person: a form asks, a program is told what to send."""
    assert isinstance(trouble, SecondNeeded)
    if not is_api(request.url.path):
        return ask_signature(
            request,
            "second",
            "",
            trouble.status,
            what=trouble.message,
            permission=trouble.permission,
        )
    detail = (
        f"{trouble.message} ({' or '.join(sorted(PERMISSIONS[trouble.permission]))}); nothing "
        "was booked. Send the same request again, its key too, with the header "
        f"{SECOND}: Bearer and that person's own token"
    )
    return refusal(request, trouble.status, trouble.code, detail)


def _malformed(request: Request, trouble: Exception) -> Response:
    assert isinstance(trouble, RequestValidationError)
    if _unreadable_of_stranger(request):
        return _http(request, no_token())
    return refusal(request, 422, "malformed", "; ".join(map(_plain, trouble.errors()[:20])))


def _unreadable_of_stranger(request: Request) -> bool:
    """True where a body under /api could not be read, and nobody we know sent it.

    Bodies are parsed before tokens are looked at; who asks is still the first question.
    """
    return is_api(request.url.path) and not has_token(request)


def _plain(problem: dict[str, Any]) -> str:
    where = ".".join(str(piece) for piece in problem["loc"][1:] or problem["loc"])
    return f"{where}: {problem['msg']}"[:400]


def _http(request: Request, trouble: Exception) -> Response:
    assert isinstance(trouble, HTTPException)
    if trouble.status_code == 400 and _unreadable_of_stranger(request):
        trouble = no_token()
    code = HTTPStatus(trouble.status_code).phrase.lower().replace(" ", "-")
    answer = refusal(request, trouble.status_code, code, str(trouble.detail) or code)
    answer.headers.update(trouble.headers or {})
    return answer


def _out_of_reach(request: Request, trouble: Exception) -> Response:
    """The store is away, locked or full: nothing is let through without it."""
    log.error("the record is out of reach at %s", request.url.path, exc_info=trouble)
    detail = (
        "The record is out of reach just now. Nothing is booked unless you see its entry "
        "number; ask again."
    )
    answer = refusal(request, 503, "out-of-reach", detail)
    answer.headers["Retry-After"] = "10"
    return answer


def _gone(request: Request, _trouble: Exception) -> Response:
    """Whoever asked hung up, or was too slow; nobody reads this."""
    return refusal(request, 400, "gone", "what was sent did not arrive whole")


def _broken(request: Request, trouble: Exception) -> Response:
    """A fault of the program: logged in full, told in one sentence, without its insides."""
    log.error("fault while answering %s", request.url.path, exc_info=trouble)
    detail = (
        "Something failed here. Nothing is booked unless you see its entry number; ask again."
    )
    answer = refusal(request, 500, "fault", detail)
    # This handler stands outside all others, the one that dresses answers too.
    dress(answer.headers, request.scope, 500)
    return answer
