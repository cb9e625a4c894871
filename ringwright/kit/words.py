"""The words of a page in one language, and which language a reader asked for.

Texts are English in the source and marked by `_` or `ngettext`; catalogues translate them.
The pseudo-locale en-XA is a made-up language that is 40 % longer: text that stays plain
English on such a page was never marked.
"""

from __future__ import annotations

import gettext
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

CATALOGUES: Final = Path(__file__).parent.parent / "locale"
ENGLISH: Final = "en"
PSEUDO: Final = "en-XA"

_HOLE: Final = re.compile(r"(%\([a-z_0-9]+\)[sd]|%%)")
_ACCENTS: Final = str.maketrans("aeiouyAEIOUYcnsz", "àéîöûýÀÉÎÖÛÝçñšž")


class Pseudo(gettext.NullTranslations):
    """A made-up language: accents on every word, brackets round it, 40 % longer."""

    def gettext(self, message: str) -> str:
        """The message as a reader of another language might meet it."""
        pieces = _HOLE.split(message)
        dressed = "".join(p if _HOLE.fullmatch(p) else p.translate(_ACCENTS) for p in pieces)
        letters = sum(len(p) for p in pieces if not _HOLE.fullmatch(p))
        return f"[{dressed}{'·' * max(1, round(0.4 * letters) - 2)}]"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The singular or plural message in the made-up language."""
        return self.gettext(msgid1 if n == 1 else msgid2)


@dataclass(frozen=True)
class Words:
    """One language: its tag for the page and its catalogue."""

    tag: str
    catalogue: gettext.NullTranslations

    def _(self, message: str, /, **values: object) -> str:
        """The message in this language, its holes filled."""
        return self.catalogue.gettext(message) % values

    def ngettext(self, one: str, many: str, n: int, /, **values: object) -> str:
        """The message for a count; %(n)s is filled with `n` unless it is given as text."""
        return self.catalogue.ngettext(one, many, n) % {"n": n, **values}


@lru_cache(maxsize=32)
def words_of(tag: str) -> Words:
    """The words of a language; English where there is no catalogue for it."""
    if tag == PSEUDO:
        return Words(PSEUDO, Pseudo())
    found = gettext.translation(
        "messages", localedir=CATALOGUES, languages=[tag.replace("-", "_")], fallback=True
    )
    # Without holes gettext still sees "%%" only where it is written so in the source.
    return Words(tag if tag in offered() else ENGLISH, found)


@lru_cache(maxsize=1)
def offered() -> tuple[str, ...]:
    """The languages that can be asked for, English first."""
    found = sorted(p.parent.parent.name for p in CATALOGUES.glob("*/LC_MESSAGES/messages.mo"))
    return (ENGLISH, *(tag.replace("_", "-") for tag in found), PSEUDO)


def asked_language(accept: str, otherwise: str = ENGLISH) -> str:
    """The first language of an Accept-Language header that is offered, else `otherwise`."""
    for wish in accept.split(",")[:20]:
        found = _offered_as(wish.split(";")[0].strip())
        if found is not None:
            return found
    return _offered_as(otherwise.replace("_", "-")) or ENGLISH


def _offered_as(tag: str) -> str | None:
    """The tag as it is offered: itself, or its language without a country."""
    by_name = {known.lower(): known for known in offered()}
    return by_name.get(tag.lower()) or by_name.get(tag.split("-")[0].lower())
