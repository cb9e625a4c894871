"""Outlines of parts, and where on them something can lie: our own drawings, one per family.

A drawing shows where defects gather; it is no drawing to work from. Coordinates are those of
the drawing's own box. What is recorded as the place on a part is free text; it is matched to a
zone by its name, and what matches none is counted as not placed, never dropped.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A place on the part: its name, its middle, and how wide marks may spread round it."""

    name: str
    x: float
    y: float
    width: float
    label_x: float
    label_y: float
    anchor: str = "middle"
    """start, middle or end: which end of the label stands at its point."""
    short: str = ""

    @property
    def label(self) -> str:
        """What is written on the drawing: the name, or a shorter one."""
        return self.short or self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """One family's drawing: its box, its strokes, its zones, and how it is looked at."""

    family: str
    view: str
    left: int
    """Where the box begins; labels stand left and right of the part."""
    width: int
    height: int
    body: str
    """Path of the outline, closed."""
    lines: str
    """Path of the edges inside it."""
    dashes: str
    """Path of what lies within or behind."""
    zones: tuple[Zone, ...]

    def zone_of(self, text: str | None) -> Zone | None:
        """The zone that a recorded place names, in any case and spacing; None for no zone."""
        wanted = " ".join((text or "").lower().replace("-", " ").replace("_", " ").split())
        return next((zone for zone in self.zones if zone.name == wanted), None)


def _zone(
    name: str,
    at: tuple[float, float],
    width: float,
    label: tuple[float, float],
    anchor: str = "middle",
    short: str = "",
) -> Zone:
    return Zone(
        name=name, x=at[0], y=at[1], width=width, label_x=label[0], label_y=label[1],
        anchor=anchor, short=short,
    )  # fmt: skip


FAN_BLADE: Final = Outline(
    family="fan-blade",
    view=N_("seen from the convex side, tip up"),
    left=-50,
    width=420,
    height=440,
    body=(
        "M104 34 C150 16 198 16 244 28 C258 110 250 205 234 258 C222 305 208 345 200 402 "
        "L202 412 L190 424 H122 L108 412 L110 402 C100 335 62 275 63 180 C64 124 80 74 104 34 Z"
    ),
    lines="M110 402 H200 M108 412 H202",
    dashes=(
        "M98 78 C130 64 186 62 222 74 L230 160 C224 235 212 285 203 326 "
        "C180 338 142 338 118 328 C102 260 90 210 89 178 C88 140 91 105 98 78 Z"
    ),
    zones=(
        _zone(N_("tip"), (174, 46), 110, (174, 12)),
        _zone(N_("upper cavity"), (160, 124), 104, (256, 112), "start"),
        _zone(N_("mid cavity"), (158, 202), 104, (254, 206), "start"),
        _zone(N_("lower cavity"), (158, 282), 74, (236, 290), "start"),
        _zone(N_("leading edge"), (76, 180), 16, (54, 176), "end"),
        _zone(N_("trailing edge"), (241, 160), 14, (262, 160), "start"),
        _zone(N_("root"), (156, 412), 74, (214, 420), "start"),
    ),
)

TURBINE_BLADE: Final = Outline(
    family="turbine-blade",
    view=N_("airfoil unrolled about the leading edge, tip up"),
    left=-50,
    width=420,
    height=440,
    body=(
        "M80 34 C120 26 200 26 240 34 L236 300 H262 V322 H236 L222 334 L230 350 L212 362 "
        "L220 378 L200 392 L204 412 H116 L120 392 L100 378 L108 362 L90 350 L98 334 L84 322 "
        "H58 V300 H84 Z"
    ),
    lines="M58 300 H262 M58 322 H262 M81 56 C120 48 200 48 239 56",
    dashes="M160 30 V196 M138 214 H182 V286 H138 Z",
    zones=(
        _zone(N_("tip"), (160, 42), 130, (160, 18)),
        _zone(
            N_("airfoil pressure side"), (120, 130), 60, (70, 120), "end", N_("pressure side")
        ),
        _zone(N_("leading edge"), (160, 196), 28, (70, 186), "end"),
        _zone(
            N_("airfoil suction side"), (200, 130), 60, (250, 120), "start", N_("suction side")
        ),
        _zone(N_("trailing edge"), (232, 230), 14, (246, 234), "start"),
        _zone(N_("core"), (160, 250), 44, (74, 254), "end"),
        _zone(N_("platform"), (160, 311), 180, (270, 316), "start"),
        _zone(N_("root"), (160, 366), 90, (236, 374), "start"),
    ),
)

CASE: Final = Outline(
    family="case",
    view=N_("seen from the side, front to the left"),
    left=-50,
    width=420,
    height=380,
    body=(
        "M62 60 H84 V96 H196 L200 74 H228 L232 96 H236 V60 H258 V320 H236 V284 H84 V320 H62 Z"
    ),
    lines="M84 96 V284 M236 96 V284 M196 96 H232",
    dashes="M136 96 V284 M176 96 V284 M206 150 H228 V196 H206 Z",
    zones=(
        _zone(N_("front flange"), (73, 190), 16, (54, 48)),
        _zone(N_("barrel"), (110, 200), 46, (110, 302)),
        _zone(N_("vane ring"), (156, 200), 36, (156, 324)),
        _zone(N_("boss"), (214, 86), 26, (214, 62)),
        _zone(N_("window"), (217, 173), 20, (208, 302)),
        _zone(N_("rear flange"), (247, 190), 16, (268, 48)),
    ),
)

OTHER: Final = Outline(
    family="other",
    view=N_("no drawing for this family of parts"),
    left=-50,
    width=420,
    height=300,
    body="M80 40 H240 V260 H80 Z",
    lines="",
    dashes="",
    zones=(),
)

OUTLINES: Final = {
    drawing.family: drawing for drawing in (FAN_BLADE, CASE, TURBINE_BLADE, OTHER)
}


def outline_of(family: str) -> Outline:
    """The drawing of a family; a plain frame for families without one."""
    return OUTLINES.get(family, OTHER)
