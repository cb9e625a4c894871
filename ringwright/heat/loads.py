"""Furnaces, the parts that wait for them, and loads that are suggested, as data."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.heat.recipe import Use


@dataclass(frozen=True, slots=True, kw_only=True)
class Runnable:
    """A recipe that a furnace can run."""

    recipe: str
    minutes: float
    """From the beginning of a run until the furnace is free again, unloading included."""
    uses: tuple[Use, ...]
    """Steps that it may do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSlot:
    """A furnace and from when it is free."""

    furnace: str
    free_from_us: int
    capacity: int
    """Parts that go in at once."""
    recipes: tuple[Runnable, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingPart:
    """A part that waits, or soon will, for a step done in a furnace."""

    serial: str
    product: str
    step: int
    ready_us: int
    """When it may go in; the past for a part that waits now."""
    deadline_us: int | None = None
    """Its run must have begun by then, the moment itself included; None: no window."""
    priority: int = 0
    """0: as they come; 1 or more goes first, the highest before the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestedRun:
    """A run to load."""

    furnace: str
    recipe: str
    begin_us: int
    end_us: int
    serials: tuple[str, ...]
    """In order: highest priority, earliest deadline, serial."""
    empty: int
    """Places left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """The next runs of all furnaces, and who is left."""

    runs: tuple[SuggestedRun, ...]
    """By their beginning, then by furnace."""
    missed: tuple[str, ...]
    """Serials whose window no run here makes, and no run beyond the horizon can."""
    waiting: tuple[str, ...]
    """Serials left for later runs, or that no furnace here can take."""
    proved: bool
    """True when nothing better exists by the order of the questions; False when the search
    was cut short or the times had to be coarsened."""
