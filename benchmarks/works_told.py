"""One thing that happened at Fjellvik Spoke Works, before it is a fact of the record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ringwright.core.facts import Fact

HOUR_US = 3_600_000_000


@dataclass(slots=True)
class Told:
    """One thing that happened; some things speak of an earlier one by its entry number."""

    at_us: int
    subject: str
    fact: Fact | Callable[[int], Fact]
    actor: str
    station: str = ""
    about: Told | None = None
    corrects: bool = False
    seq: int = 0
