"""Which site an answer is about, so that every answer about a practice site can say so.

The record notes each site that it opens; whoever answers a request looks here once it is done.
Nobody along the way has to remember to pass it on: a page that forgot would bear no watermark.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """A practice site that an answer is about."""

    site: str
    of: str
    """Code of the real site beside which it stands."""


@dataclass(slots=True)
class About:
    """What one answer has been about so far."""

    practice: Practice | None = None


_ABOUT: ContextVar[About | None] = ContextVar("about", default=None)


@contextmanager
def asking() -> Iterator[About]:
    """Keep note for the length of one request, in all the threads that work on it."""
    about = About()
    token = _ABOUT.set(about)
    try:
        yield about
    finally:
        _ABOUT.reset(token)


def note(site: str, practice_of: str | None) -> None:
    """A site was opened; once a practice site was, the answer stays one about practice.

    Whatever else is opened for it: a watermark too many does no harm, one too few does.
    """
    about = _ABOUT.get()
    if about is not None and practice_of is not None:
        about.practice = Practice(site=site, of=practice_of)


def practice() -> Practice | None:
    """The practice site that the answer being made is about, or None."""
    about = _ABOUT.get()
    return about.practice if about else None
