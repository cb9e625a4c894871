"""The names that this server answers to.

A page elsewhere can let its own name point at a machine of the shop; the browser then takes it
for the same site. Such a request still carries the foreign name (DNS rebinding).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from ringwright.settings import HOST

OWN_NAMES: Final = ("localhost", "127.0.0.1", "[::1]")
"""Names of the machine itself: whoever asks by them is on it, or talks to its own."""


def answers_to(host: str, names: Iterable[str]) -> bool:
    """True where a Host header names this server: a listed name, or one of the machine's own.

    A name listed without a port goes with any.
    """
    found = HOST.fullmatch(host.lower())
    if found is None:
        return False
    name, port = found[1].removesuffix("."), found[2]
    if name in OWN_NAMES:
        return True
    wanted = {listed.lower() for listed in names}
    return name in wanted or (port is not None and f"{name}:{port}" in wanted)
