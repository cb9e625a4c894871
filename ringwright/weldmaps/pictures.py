"""Radiographs attached to a part that belong to one of its films."""

from __future__ import annotations

import re

from ringwright.attachments.queries import Attached, read_attached
from ringwright.flow.moment import past_us
from ringwright.people.screen import Screen
from ringwright.welds.state import Film


def shows_film(one: Attached, film: Film) -> bool:
    """True where the film names the picture by its digest, or the picture's text the film.

    A code of one letter may be a word, so that "film" must stand before it.
    """
    before = "(?i:film) +" if len(film.code) == 1 else r"(?<![\w-])"
    whole = rf"{before}{re.escape(film.code)}(?![\w-])"
    return one.digest == film.file or re.search(whole, one.shows) is not None


def read_pictures(screen: Screen, serial: str, film: Film, as_of: str | None) -> list[Attached]:
    """The pictures of a film that are attached to its part, the newest first."""
    at_us = past_us(screen.ledger, screen.site, as_of)
    with screen.ledger.read(screen.site, at_us) as read:
        attached = read_attached(read, serial)
    return [one for one in attached if one.is_drawn and shows_film(one, film)]
