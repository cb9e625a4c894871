"""Figures as people type them."""

from __future__ import annotations

import re
from typing import Final

from ringwright.core.errors import Refused

_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)")


def parse_reading(text: str) -> float:
    """A reading as typed; raises Refused for what could be read in two ways."""
    bare = text.strip().replace("\u2212", "-")
    if "," in bare:
        point = bare.replace(",", ".")
        raise Refused(
            f"{text[:40]!r} has a comma, which may part thousands or decimals; "
            f"write it with a point, such as {point[:20] if point.count('.') == 1 else '12.5'}"
        )
    if not bare.isascii() or not _NUMBER.fullmatch(bare) or len(bare) > 24:
        raise Refused(f"{text[:40]!r} is not a reading; write figures and a point")
    return float(bare)


def parse_figure(text: str, name: str) -> float:
    """The same, of a field with a name; raises Refused that names it."""
    try:
        return parse_reading(text)
    except Refused as refusal:
        raise Refused(f"{name}: {refusal.message}") from None


def parse_whole(text: str, name: str) -> int:
    """A whole number of a field with a name; raises Refused that names it."""
    if not (text.isascii() and text.isdigit() and len(text) < 9):
        raise Refused(f"{name}: {text[:40]!r} is no whole number")
    return int(text)
