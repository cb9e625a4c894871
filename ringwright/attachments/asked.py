"""How somebody wants to see a radiograph, out of an address, and back into one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from ringwright.core.errors import Refused
from ringwright.imaging.distance import Point
from ringwright.imaging.film import Film
from ringwright.imaging.view import View
from ringwright.kit.typed import parse_figure, parse_whole

FURTHEST: Final = 1e9
MOST_PART: Final = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A view of one radiograph, and the points that somebody set on it."""

    view: View
    a: Point | None = None
    b: Point | None = None
    part: str = ""
    """The serial of the part from whose page it was opened."""

    def shown(self, **changed: Any) -> dict[str, Any]:
        """The values of an address of the same view with some of it changed."""
        return self.showing(replace(self.view, **changed))

    def showing(self, view: View) -> dict[str, Any]:
        """The values of an address of another view with the same points."""
        found: dict[str, Any] = {
            "level": plain_figure(view.level),
            "window": plain_figure(view.window),
            "turned": 1 if view.turned else None,
            "left": view.left,
            "top": view.top,
            "across": view.across,
            "down": view.down,
            "part": self.part or None,
        }
        for name, point in (("a", self.a), ("b", self.b)):
            if point is not None:
                found |= {f"{name}x": point.column, f"{name}y": point.row}
        return found


def plain_figure(value: float) -> str:
    """A figure as an address holds it: no more digits than it needs."""
    return f"{value:.6g}" if abs(value) < 1e5 else f"{value:.1f}"


def asked_of(given: Mapping[str, str], film: Film) -> Asked:
    """What was asked, made to fit the radiograph; raises Refused for what is no figure."""
    first = film.first
    level = _figure(given, "level", first.level)
    window = _figure(given, "window", first.window)
    if window < 1:
        raise Refused("window: at least 1; the function of the standard has no smaller one")
    places = {name: _whole(given, name) or 0 for name in ("left", "top", "across", "down")}
    view = View(level=level, window=window, turned=given.get("turned", "") == "1", **places)
    return Asked(
        view=view.on(film),
        a=_point(given, "a", film),
        b=_point(given, "b", film),
        part=given.get("part", "").strip()[:MOST_PART],
    )


def _figure(given: Mapping[str, str], name: str, otherwise: float) -> float:
    text = given.get(name, "").strip()
    value = parse_figure(text, name) if text else otherwise
    if not math.isfinite(value) or abs(value) > FURTHEST:
        raise Refused(f"{name}: no radiograph has a value of {text[:24]}")
    return value


def _whole(given: Mapping[str, str], name: str) -> int | None:
    text = given.get(name, "").strip()
    return parse_whole(text, name) if text else None


def _point(given: Mapping[str, str], name: str, film: Film) -> Point | None:
    """A point of the picture; None where it was not typed whole."""
    column, row = _whole(given, f"{name}x"), _whole(given, f"{name}y")
    if column is None and row is None:
        return None
    if column is None or row is None:
        raise Refused(f"point {name.upper()}: type both of its figures, across and down")
    film.value_at(row, column)
    return Point(column=column, row=row)
