"""The words of parts that every room says alike."""

from __future__ import annotations

from typing import Final

from ringwright.core.glossary import N_

PLACE_WORDS: Final[dict[str, str]] = {
    "waiting": N_("waiting"),
    "in work": N_("in work"),
    "released": N_("released"),
    "fitted": N_("fitted"),
    "sent": N_("sent"),
    "scrapped": N_("scrapped"),
}
"""Where a part stands in the flow."""
