"""The picture of a run as data: what stands where. Across in per cent, down in CSS pixels.

A path is drawn in a box 1,000 wide and twice as high as its panel, stretched to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ringwright.heat.recipe import Recipe
from ringwright.heat.trace import Trace
from ringwright.heatruns.breaks import Break, Gap, Laid


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One channel: its line, and the word and mark at its end."""

    code: str
    word: str
    style: int
    """Which dash and mark, from 0; lines of one picture differ in it."""
    path: str
    end_y: float
    label_x: float
    """Across, where the last reading of all stands."""
    label_y: float
    failed: bool = False

    @property
    def lead_y(self) -> float:
        """From its word to its last reading, down."""
        return round(self.end_y - self.label_y, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """Where the recipe wants a segment: a soak's band, a ramp's way and where it ends."""

    name: str
    kind: str
    x: float
    width: float
    top: float
    bottom: float
    middle: float
    begins_at: float
    """Down, where a ramp comes from."""
    ahead: bool
    """True where it has not begun."""

    @property
    def end(self) -> float:
        """Across, where it ends."""
        return round(self.x + self.width, 2)

    @property
    def height(self) -> float:
        """Of the band."""
        return round(max(self.bottom - self.top, 0.0), 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakClock:
    """The minutes in band under a soak."""

    name: str
    x: float
    width: float
    bars: tuple[tuple[float, float], ...]
    """(x, width) of each stretch in which the clock ran."""
    minutes: float | None
    least: float | None
    """What the recipe asks [min]."""
    met: bool | None
    ahead: bool = False
    """True for what is still to come; `minutes` is then what is left of a soak under way."""

    @property
    def end(self) -> float:
        """Across, where the soak ends."""
        return round(self.x + self.width, 2)

    @property
    def middle(self) -> float:
        """Across, where its words stand."""
        return round(self.x + self.width / 2, 2)

    @property
    def whole_minutes(self) -> int:
        """In band; cut off, never rounded up."""
        return int((self.minutes or 0.0) + 1e-6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A limit that was broken, at its worst."""

    x: float
    y: float
    found: Break


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A stretch without readings."""

    x: float
    width: float
    found: Gap

    @property
    def middle(self) -> float:
        """Across, where its words stand."""
        return round(self.x + self.width / 2, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A figure of a scale, or a time [s since 1970 UTC], and where it stands."""

    at: float
    value: float

    @property
    def text_y(self) -> float:
        """Down, the line its figure stands on."""
        return round(self.at + 5, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One box of the picture: its corridors, lines and marks."""

    height: int
    corridors: tuple[Corridor, ...]
    ticks: tuple[Tick, ...]
    hours: tuple[Tick, ...]
    lines: tuple[Line, ...] = ()
    marks: tuple[Mark, ...] = ()
    holes: tuple[Hole, ...] = ()
    ceiling_y: float | None = None

    @property
    def path_height(self) -> int:
        """Of the box that paths are drawn in: half pixels."""
        return 2 * self.height

    @property
    def ceilings(self) -> tuple[float, ...]:
        """Down, the two lines of the ceiling; empty where there is none."""
        return () if self.ceiling_y is None else (self.ceiling_y, round(self.ceiling_y - 4, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """One soak enlarged, so that its band can be seen."""

    name: str
    panel: Panel
    beyond: bool
    """True where something read lies beyond the box."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceDrawing:
    """The whole picture."""

    panel: Panel
    pressure: Panel | None
    now_x: float | None = None
    lenses: tuple[Lens, ...] = ()
    clocks: tuple[SoakClock, ...] = ()
    gaps: tuple[Gap, ...] = ()
    breaks: tuple[Break, ...] = ()
    """Every limit that was broken, in time; the marks show the worst of them."""
    names: tuple[str, ...] = ()
    """The thermocouples drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictured:
    """What a picture is drawn from."""

    recipe: Recipe
    laid: Sequence[Laid]
    """One a segment of the recipe, in its order."""
    trace: Trace | None = None
    started_s: float = 0.0
    """Where the picture begins when nothing was read yet [s since 1970 UTC]."""
    now_s: float | None = None
    """While the cycle goes on: what has not begun yet is drawn ahead of it."""
    offset_s: float = 0.0
    """The site's clock less UTC, so that the scale has round hours of the site."""
