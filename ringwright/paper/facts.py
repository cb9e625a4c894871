"""Facts of packs of paper: printed, entered by two people, booked, or given up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact

KIND = "paper"


@dataclass(frozen=True, slots=True, kw_only=True)
class PackPrinted(Fact):
    """A pack was made: one sheet for each part there, numbered for good."""

    kind: ClassVar[str] = "pack-printed"
    subject_kind: ClassVar[str] = KIND
    group: str
    """The station group; empty: the whole cell."""
    head: int
    """The newest entry of the record when it was made."""
    sheets: list[list[Any]]
    """Each as [sheet number, serial, step]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetEntered(Fact):
    """Somebody entered what stands on a sheet; nothing is booked by that alone."""

    kind: ClassVar[str] = "sheet-entered"
    subject_kind: ClassVar[str] = KIND
    sheet: str
    content: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetBooked(Fact):
    """Two people entered the same, and it was booked."""

    kind: ClassVar[str] = "sheet-booked"
    subject_kind: ClassVar[str] = KIND
    sheet: str
    entries: list[int]
    """What it became in the record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetUnused(Fact):
    """A sheet came back empty, or is given up, with the reason."""

    kind: ClassVar[str] = "sheet-unused"
    subject_kind: ClassVar[str] = KIND
    sheet: str
    reason: str


FACTS: tuple[type[Fact], ...] = (PackPrinted, SheetEntered, SheetBooked, SheetUnused)
