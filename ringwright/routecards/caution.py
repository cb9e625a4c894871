"""The usual caution beside steps that can hurt people; it defers to codes and licences."""

from __future__ import annotations

from typing import Final

from ringwright.core.authorisation import asked_of, words_of_method
from ringwright.core.glossary import N_
from ringwright.routecards.card import Step

WORDS: Final[tuple[tuple[str, str, tuple[str, ...]], ...]] = (
    ("radiography", "inspection", ("radiograph", "x-ray", "xray", "x ray")),
    ("penetrant", "inspection", ("penetrant",)),
    ("proof", "inspection", ("proof",)),
    ("chemicals", "inspection", ("etch",)),
    ("chemicals", "cleaning", ("etch", "leach", "clean")),
    ("chemicals", "finishing", ("etch", "strip", "plat")),
    ("machining", "machining", ("turn", "mill", "bore", "grind", "drill", "machine")),
    ("wax", "forming", ("wax",)),
)
"""Which caution a step of that kind carries when one of these words stands in what names it."""

BY_KIND: Final = ("heat-cycle", "casting", "joining")
"""Kinds that carry their caution whatever the step is called."""

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
    "chemicals": N_(
        "Acids, caustics and solvents, some hot or under pressure: burns and fume. The site's "
        "chemical rules, local codes and licensed practice decide how it is done; this record "
        "does not."
    ),
    "penetrant": N_(
        "Penetrant, solvent and ultraviolet light: fume, skin and eyes. The qualified "
        "procedure, local codes and licensed practice decide how it is done; this record does "
        "not."
    ),
    "proof": N_(
        "A part under proof load can break and fly. The site's test rules, local codes and "
        "licensed practice decide how it is done; this record does not."
    ),
    "machining": N_(
        "Turning tools and parts, sharp swarf; fine titanium swarf burns. The site's machine "
        "rules, local codes and licensed practice decide how it is done; this record does not."
    ),
    "wax": N_(
        "Hot wax under pressure: burns. The site's rules, local codes and licensed practice "
        "decide how it is done; this record does not."
    ),
}


def caution_for(kind: str, *told: str) -> str | None:
    """The caution of a step kind, or None; `told` is what else names the step.

    An inspection counts as radiography when its name, group or authorisation says so; other
    words tell of chemicals, penetrant, proof loads, machining and hot wax likewise.
    """
    said = " ".join(told).lower()
    for code, of_kind, words in WORDS:
        if kind == of_kind and any(word in said for word in words):
            return CAUTIONS[code]
    return CAUTIONS.get(kind) if kind in BY_KIND else None


def step_caution(step: Step) -> str | None:
    """The caution of one step of a route card, or None."""
    asked = asked_of(step.authorisation or "")
    return caution_for(step.kind, step.name, step.station_group, words_of_method(asked.method))
