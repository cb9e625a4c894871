"""An act of a page tried: booked, or told why not with what was typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ringwright.core.errors import Refused, RingwrightError
from ringwright.kit.forms import Given
from ringwright.people.screen import Screen


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """An act that was refused: which, why, and what was typed."""

    act: str
    title: str
    error: RingwrightError
    given: Given

    @property
    def status(self) -> int:
        """The HTTP status of the page that tells it."""
        return self.error.status


def attempt(
    screen: Screen, sent: Given, title: str, do: Callable[[Screen, Given], object]
) -> Tried | None:
    """Try one act; None when it was done."""
    try:
        do(screen, sent)
    except RingwrightError as error:
        return Tried(act=sent.text("act"), title=title, error=error, given=sent)
    return None


def key_of(sent: Given) -> str:
    """The key of the form as drawn; raises Refused when it carries none."""
    key = sent.text("key")
    if not key:
        raise Refused("the form carried no key; open the page again")
    return key
