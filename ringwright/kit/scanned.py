"""What a scanner types, as the serial, mark or code that it means.

A scanner may put a symbology identifier before the data (ISO/IEC 15424: `]d1` for a Data
Matrix) and CR, LF or TAB behind it. A customer's label may hold GS1 element strings (General
Specifications of GS1, section 3), of which the serial is application identifier 21.
"""

from __future__ import annotations

import re
from typing import Final

LONGEST: Final = 200
_SENT_ALONG: Final = re.compile(r"[\r\n\t]")
_IDENTIFIER: Final = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_GS1: Final = ("]d2", "]C1", "]e0", "]Q3", "]J1")
"""Identifiers of symbols that hold GS1 element strings; upper and lower case as they stand."""
SERIAL: Final = "21"


def scanned_text(text: str) -> str:
    """The serial of a GS1 label, else the text without what scanners add to it."""
    bare = _SENT_ALONG.sub("", text).strip()[:LONGEST]
    told = _IDENTIFIER.match(bare)
    if bare.startswith(_GS1) or bare.startswith("(01)") or bare.startswith("(21)"):
        return _gs1_serial(bare) or bare
    return bare[told.end() :].strip() if told else bare


def _gs1_serial(text: str) -> str:
    """The serial in GS1 element strings, as read or as printed with brackets; empty: none."""
    from biip import ParseError
    from biip.gs1_messages import GS1Message

    try:
        if text.startswith("("):
            message = GS1Message.parse_hri(text)
        else:
            message = GS1Message.parse(text[3:])
    except ParseError:
        return ""
    found = [one.value for one in message.element_strings if one.ai.ai == SERIAL]
    return found[0] if len(found) == 1 else ""
