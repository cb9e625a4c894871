"""Passwords and PINs: which are taken, and how they are kept (argon2id).

Rules as OWASP ASVS 5.0.0 chapter 6.2 and NIST SP 800-63B 5.1.1.2: a length, no composition
rules, no change by date, nothing that stands in lists of passwords used most.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from ringwright.core.errors import Refused

SHORTEST: Final = 8
LONGEST: Final = 256
ADVISED: Final = 15
PIN_SHORTEST: Final = 6
PIN_LONGEST: Final = 12
MEMORY_KIB: Final = 47_104
"""OWASP Password Storage Cheat Sheet: argon2id, m = 46 MiB, t = 1, p = 1."""
_NOBODYS: Final = (
    "$argon2id$v=19$m=47104,t=1,p=1$2D1VEH+7T0ux+vHQUCkYsA$HhF9b5"
    "ibb/giqXbI5qSXY/5vbajwsf3fopVR7lnn9MM"
)
"""Of a secret that nobody knows: who is not there takes as long to refuse as who is."""

_hasher: Final = PasswordHasher(time_cost=1, memory_cost=MEMORY_KIB, parallelism=1)
# Each hash takes 46 MiB and a core: two at once, however many sign in.
_two_at_once: Final = threading.Semaphore(2)


def hash_secret(text: str) -> str:
    """What is kept of a password or PIN."""
    with _two_at_once:
        return _hasher.hash(text)


def fits(kept: str | None, text: str) -> bool:
    """True when the text is what was kept; takes as long where nothing is kept."""
    with _two_at_once:
        try:
            _hasher.verify(kept or _NOBODYS, text)
        except (VerificationError, InvalidHashError):
            return False
    return kept is not None


def outdated(kept: str) -> bool:
    """True when the parameters were raised since this was kept."""
    return _hasher.check_needs_rehash(kept)


def check_password(text: str, context: Iterable[str]) -> str:
    """The password, if it may be used; raises Refused and says why not.

    `context` are words that anybody here would try: the program's, the site's, one's own code.
    """
    if len(text) < SHORTEST:
        raise Refused(f"a password has at least {SHORTEST} letters; {ADVISED} are better")
    if len(text) > LONGEST:
        raise Refused(f"a password has at most {LONGEST} letters")
    bare = re.sub(r"[^a-z]", "", text.lower())
    words = {re.sub(r"[^a-z]", "", word.lower()) for word in context} - {""}
    if text.lower() in _used_most() or bare in words or len(set(text)) < 4:
        raise Refused("that password is one of the first anybody would try; take another")
    return text


def check_pin(text: str) -> str:
    """The PIN, if it may be used; raises Refused."""
    if not text.isascii() or not text.isdigit() or not PIN_SHORTEST <= len(text) <= PIN_LONGEST:
        raise Refused(f"a PIN has {PIN_SHORTEST} to {PIN_LONGEST} digits")
    digits = [int(digit) for digit in text]
    steps = {(after - before) % 10 for before, after in pairwise(digits)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        raise Refused("that PIN is one of the first anybody would try; take another")
    return text


@lru_cache(maxsize=1)
def _used_most() -> frozenset[str]:
    # The 30,000 most used passwords that the library zxcvbn carries (ASVS asks for 3,000).
    from zxcvbn.frequency_lists import FREQUENCY_LISTS  # type: ignore[import-untyped]

    return frozenset(FREQUENCY_LISTS["passwords"])
