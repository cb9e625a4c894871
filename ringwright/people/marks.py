"""Secrets that the program makes itself: sessions, tokens, badges, one-time codes."""

from __future__ import annotations

import hashlib
import re
import secrets
from collections.abc import Iterable
from typing import Any, Final

from ringwright.core.errors import Refused

LETTERS: Final = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""No 0, 1, I, O: a code is read off one screen and typed into another."""
BADGE: Final = "RWB1-"
"""What a badge begins with; the digit keeps it from being read as an act card."""
_BADGE: Final = re.compile(r"RWB1\W?([2-9A-HJ-NP-Z]{26})")
SHORTEST_NAME: Final = 12
"""Letters of a hash by which a page names a session, a device or a key."""
STRAY: Final = (
    "that was a badge; it is scanned when an act asks for it, and nothing was kept of it"
)
_BADGE_BEGINS: Final = re.compile(r"\s*RWB1", re.IGNORECASE)


def new_secret() -> str:
    """A secret of 256 random bits for a cookie or a header."""
    return secrets.token_urlsafe(32)


def new_badge() -> str:
    """What a new badge says when scanned: 130 random bits."""
    return BADGE + "".join(secrets.choice(LETTERS) for _ in range(26))


def new_code() -> str:
    """A one-time code to be read and typed: 60 random bits, in three groups."""
    letters = "".join(secrets.choice(LETTERS) for _ in range(12))
    return f"{letters[:4]}-{letters[4:8]}-{letters[8:]}"


def code_of(typed: str) -> str:
    """A one-time code as typed, put into its form: capitals, in groups."""
    letters = re.sub(r"[^0-9A-Z]", "", typed.upper())
    return "-".join(letters[i : i + 4] for i in range(0, len(letters), 4))


def badge_of(scanned: str) -> str | None:
    """The badge that was scanned, or None; what stands for the dash differs by keyboard."""
    # The dash of an English keyboard is a German one's ß, which has no capital of one letter.
    found = _BADGE.fullmatch(scanned.strip().replace("ß", "-").upper())
    return BADGE + found[1] if found else None


def looks_like_badge(scanned: str) -> bool:
    """True for a text that may be a badge: it is never shown, kept or looked for."""
    return bool(_BADGE_BEGINS.match(scanned))


def check_no_badge(texts: Iterable[str]) -> None:
    """Raise Refused where a badge stands among texts that are shown, kept or looked for."""
    if any(looks_like_badge(text) for text in texts):
        raise Refused(STRAY)


def begins_so(rows: Iterable[Any], short: str) -> Any | None:
    """The row whose hash begins as a page named it, or None; too few letters name nothing."""
    named = len(short) >= SHORTEST_NAME
    return next((row for row in rows if named and row.hash.startswith(short)), None)


def hash_of(secret: str) -> str:
    """What is kept of a secret. It has random bits enough, so no salt is needed."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
