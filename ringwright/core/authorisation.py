"""What a route step asks of whoever works on it: a method, and for testing methods a level.

A code that begins with a method abbreviation of ISO 9712 is non-destructive testing and may
end in a level: `RT-2` is radiographic testing at level 2 or higher. Every other code is a
method as it stands, hyphens and all: `weld-tig`, `furnace`, `WPS-31-2`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_

NDT_METHODS: Final[dict[str, str]] = {
    "RT": N_("radiographic testing"),
    "UT": N_("ultrasonic testing"),
    "PT": N_("penetrant testing"),
    "MT": N_("magnetic testing"),
    "ET": N_("eddy current testing"),
    "VT": N_("visual testing"),
    "TT": N_("infrared thermographic testing"),
    "LT": N_("leak testing"),
    "AT": N_("acoustic emission testing"),
    "ST": N_("strain gauge testing"),
}
"""Method abbreviations of ISO 9712 (from memory)."""
LEVELS: Final = (1, 2, 3)
"""Levels of a tester in ISO 9712 and EN 4179 (from memory)."""
_NDT: Final = re.compile(rf"({'|'.join(NDT_METHODS)})(?:-(\d{{1,3}}))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A method and the lowest level that will do; level 0 where a method knows none."""

    method: str
    level: int = 0

    @property
    def text(self) -> str:
        """The code, such as RT-2."""
        return f"{self.method}-{self.level}" if self.level else self.method

    @property
    def is_ndt(self) -> bool:
        """True for non-destructive testing: it asks a level and a yearly eyesight test."""
        return self.method in NDT_METHODS

    @property
    def sound(self) -> bool:
        """False for a level that no standard knows; then nobody holds it."""
        return self.level in LEVELS if self.is_ndt else self.level == 0


def asked_of(code: str) -> Asked:
    """What a code asks. A testing method without a level asks for level 1 or higher."""
    found = _NDT.fullmatch(code.strip())
    if found is None:
        return Asked(method=code.strip())
    return Asked(method=found[1].upper(), level=1 if found[2] is None else int(found[2]))


def words_of_method(method: str) -> str:
    """A testing method in words, to be translated; any other is its own word."""
    return NDT_METHODS.get(method, method)
