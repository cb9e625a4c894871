"""How far the demo's story has been told in this store."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ringwright.core.facts import Fact

SUBJECT = "demo"


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoBegun(Fact):
    """An older program's demo: simulated anew at every start. Such a store is left as it is."""

    kind: ClassVar[str] = "demo-begun"
    subject_kind: ClassVar[str] = SUBJECT
    seed: int
    start_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoOpened(Fact):
    """The invented factory of this store opened its doors at that moment."""

    kind: ClassVar[str] = "demo-opened"
    subject_kind: ClassVar[str] = SUBJECT
    seed: int
    start_us: int
    story: int
    """Which story the program told; another one is not told on."""
    shown_us: int = 0
    """When the demo was first loaded: what is to be seen on the first day hangs on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoTold(Fact):
    """The entries from `first` up to this one were the story's."""

    kind: ClassVar[str] = "demo-told"
    subject_kind: ClassVar[str] = SUBJECT
    first: int
    week: int
    """The week told last, counted from 0."""
    facts: int
    """How much of that week has been told."""
    digest: str
    """SHA-256 of that: told again later, it must be the same."""
    kept: str | None = None
    """The factory when that week began, compressed; left out when an earlier telling has it."""
    left: tuple[tuple[str, str], ...] = ()
    """Kind and code of what was left to people because they have a hand on its furnace run."""


FACTS: tuple[type[Fact], ...] = (DemoBegun, DemoOpened, DemoTold)
