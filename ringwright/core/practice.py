"""What sets a practice site's papers apart from real ones: its words on keys and labels.

A practice site is for training. It keeps a record of its own, and whatever leaves it bears one
of these marks, so that no real site takes it in.
"""

from __future__ import annotations

import hashlib
from typing import Final

from ringwright.core.errors import Refused

WORD: Final = "PRACTICE"
"""The watermark, and what the name of every practice site begins with."""
FILE_PREFIX: Final = f"{WORD}-"
KEY_PREFIX: Final = "practice:"
LABEL_PREFIX: Final = f"{WORD}:"
LONGEST_KEY: Final = 200


def file_name_of(name: str) -> str:
    """A file's name with the mark before it, once."""
    return name if name.startswith(FILE_PREFIX) else f"{FILE_PREFIX}{name}"


def key_of(key: str) -> str:
    """A booking's key with the mark before it, once; a key too long for that by its digest."""
    if is_practice_key(key):
        return key
    marked = f"{KEY_PREFIX}{key}"
    if len(marked) <= LONGEST_KEY:
        return marked
    return f"{KEY_PREFIX}{hashlib.sha256(key.encode('utf-8', 'surrogatepass')).hexdigest()}"


def label_of(serial: str) -> str:
    """What the label of a practice part says to a scanner."""
    return f"{LABEL_PREFIX}{serial}"


def is_practice_key(key: str) -> bool:
    """True for a key that was exported from a practice site."""
    return key[: len(KEY_PREFIX)].lower() == KEY_PREFIX


def is_practice_label(text: str) -> bool:
    """True for what the label of a practice part says."""
    return text[: len(LABEL_PREFIX)].upper() == LABEL_PREFIX


def check_key(key: str, *, practice: bool) -> None:
    """Raise Refused for a practice record's key at a real site."""
    if not practice and is_practice_key(key):
        raise Refused(
            f"key {key[:60]!r} is a practice record's; a real site takes none in",
            code="practice",
        )


def serial_of(text: str, *, practice: bool) -> str:
    """The serial that was scanned or typed; raises Refused for a practice label at a real site.

    A practice site reads its own labels and real ones alike: trainees handle real parts too.
    """
    if not is_practice_label(text):
        return text
    if not practice:
        raise Refused(
            f"{text[:60]} is a practice label: it belongs to the practice site, "
            "and nothing of it is booked here",
            code="practice",
        )
    return text[len(LABEL_PREFIX) :].strip()
