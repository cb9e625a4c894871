"""A mass as it was typed, and what it is worth: by its scale on the register, or as typed."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, select

from ringwright.core.errors import Refused
from ringwright.sites.tables import GaugeNow

IN_KG: Final = {"kg": 1.0, "g": 0.001}
MOST_KG: Final = 100_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """A mass as somebody gave it."""

    kg: float
    gauge: str = ""
    """Code of the scale; empty: `u_kg` says what the figure is worth."""
    u_kg: float | None = None

    def body(self) -> Any:
        """As JSON values."""
        return [self.kg, self.gauge, self.u_kg]


def worth(connection: Connection, site_id: int, typed: Typed) -> tuple[float, float]:
    """(mass, standard uncertainty) [kg]; raises Refused where nothing says what it is worth."""
    if not (math.isfinite(typed.kg) and 0.0 <= typed.kg <= MOST_KG):
        raise Refused("the mass must be a figure in kg")
    if typed.u_kg is not None:
        if not (math.isfinite(typed.u_kg) and 0.0 <= typed.u_kg <= MOST_KG):
            raise Refused("the uncertainty must be a figure in kg")
        return typed.kg, typed.u_kg
    if not typed.gauge:
        raise Refused("say which scale it was weighed on, or what the figure is worth in kg")
    u_kg = scale_u_kg(connection, site_id, typed.gauge)
    if u_kg is None:
        raise Refused(
            f"{typed.gauge[:40]} is no scale in use on the register with an uncertainty in kg "
            "or g; choose another, or type what the figure is worth"
        )
    return typed.kg, u_kg


def scale_u_kg(connection: Connection, site_id: int, code: str) -> float | None:
    """Standard uncertainty [kg] of a scale in use; None where the register has none."""
    return read_scales(connection, site_id).get(code)


def read_scales(connection: Connection, site_id: int) -> dict[str, float]:
    """Code to standard uncertainty [kg] of every gauge in use that weighs in kg or g."""
    query = select(GaugeNow.code, GaugeNow.data).where(GaugeNow.site_id == site_id)
    found: dict[str, float] = {}
    for row in connection.execute(query.order_by(GaugeNow.code)):
        gauge = json.loads(row.data)
        units = {gauge.get("unit", ""): gauge.get("uncertainty"), **gauge.get("also", {})}
        worths = [u * IN_KG[unit] for unit, u in units.items() if unit in IN_KG and u]
        if worths and not gauge.get("withdrawn"):
            found[row.code] = min(worths)
    return found
