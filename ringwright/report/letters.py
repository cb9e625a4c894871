"""The letters of the paper: one font, embedded, and no box where it lacks a sign.

Vera comes with the library that draws the paper, so every machine prints the same bytes. It
knows western and central European letters. A sign that it lacks is told by its number.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final
from xml.sax.saxutils import escape

PLAIN, BOLD = "Vera", "VeraBd"
_SAME: Final = {"\u202f": "\u00a0", "\u03bc": "\u00b5", "\u2009": "\u00a0", "\t": " "}
"""Signs for which the font has one that looks the same."""


@lru_cache(maxsize=1)
def known_signs() -> frozenset[int]:
    """The signs that both cuts of the font can draw; the fonts are registered with it."""
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    found = []
    for name in (PLAIN, BOLD):
        font = TTFont(name, f"{name}.ttf")
        registerFont(font)
        found.append(frozenset(font.face.charToGlyph))
    return found[0] & found[1]


def drawable(text: str) -> str:
    """A text as the paper can draw it: a sign that the font lacks as [U+4E2D]."""
    signs = known_signs()
    same = (_SAME.get(letter, letter) for letter in text)
    return "".join(c if ord(c) in signs and c.isprintable() else _told(c) for c in same)


def _told(letter: str) -> str:
    return letter if letter in (" ", "\u00a0") else f"[U+{ord(letter):04X}]"


def marked(text: str) -> str:
    """The same, safe inside the library's paragraphs, which read marks as HTML does."""
    return escape(drawable(text))
