"""The usual caution beside steps that can hurt people; it defers to codes and licences."""

from __future__ import annotations

from typing import Final

from ringwright.core.glossary import N_
from ringwright.routecards.card import Step

RADIOGRAPHY: Final = ("radiograph", "x-ray", "xray", "x ray")

CAUTIONS: Final[dict[str, str]] = {
    "heat-cycle": N_(
        "Hot work under gas or vacuum. The site's furnace rules, local codes and licensed "
        "practice decide how it is done; this record does not."
    ),
    "casting": N_(
        "Molten metal. The site's casting rules, local codes and licensed practice decide how "
        "it is done; this record does not."
    ),
    "joining": N_(
        "Welding or bonding: arc, heat, pressure, fume. The qualified procedure, local codes "
        "and licensed practice decide how it is done; this record does not."
    ),
    "radiography": N_(
        "Ionising radiation. Only under the site's radiation safety officer, local law and "
        "licensed practice; this record opens no door."
    ),
}


def caution_for(kind: str, *told: str) -> str | None:
    """The caution of a step kind, or None; `told` is what else names the step.

    An inspection counts as radiography when its name, group or authorisation says so.
    """
    said = " ".join(told).lower()
    if kind == "inspection" and any(word in said for word in RADIOGRAPHY):
        return CAUTIONS["radiography"]
    return CAUTIONS.get(kind)


def step_caution(step: Step) -> str | None:
    """The caution of one step of a route card, or None."""
    return caution_for(step.kind, step.name, step.station_group, step.authorisation or "")
