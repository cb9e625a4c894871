"""From the forms of the pages to what is recorded: one reader for each act."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from ringwright.core.errors import Refused
from ringwright.kit.forms import Given
from ringwright.kit.typed import parse_figure, parse_whole
from ringwright.weldmaps.rules import welds_named
from ringwright.welds.state import Ring
from ringwright.welds.telling import waiting_on

GOOD, BAD = "accepted", "not accepted"


def said_of(act: str, sent: Given, ring: Ring) -> dict[str, Any]:
    """The particulars of an act as `TellRing` takes them; raises Refused for bad figures."""
    reader = _READERS.get(act)
    if reader is None:
        raise Refused("that act is not known of a ring; open the page again")
    return reader(sent, ring)


def _fitted(sent: Given, ring: Ring) -> dict[str, Any]:
    vanes = []
    for number in range(1, ring.ruled.vanes + 1):
        radial, axial = sent.text(f"radial.{number}"), sent.text(f"axial.{number}")
        if not radial and not axial:
            continue
        if not radial or not axial:
            raise Refused(f"vane {number}: read both its outward and its forward position")
        vanes.append(
            {
                "vane": number,
                "radial_mm": parse_figure(radial, f"vane {number} outward"),
                "axial_mm": parse_figure(axial, f"vane {number} forward"),
            }
        )
    return {"vanes": vanes, "gauge": sent.text("gauge")}


def _passed(sent: Given) -> dict[str, Any]:
    return {
        "welder": sent.text("welder"),
        "filler_lot": sent.text("filler_lot"),
        "procedure": sent.text("procedure"),
        "oxygen_ppm": parse_figure(sent.text("oxygen_ppm"), "oxygen"),
        "colour": sent.text("colour"),
    }


def _made(sent: Given, ring: Ring) -> dict[str, Any]:
    return {"welds": welds_named(sent.text("welds"), ring.ruled.welds), **_passed(sent)}


def _redone(sent: Given, ring: Ring) -> dict[str, Any]:
    del ring
    return {"weld": sent.text("weld"), **_passed(sent)}


def _penetrant(sent: Given, ring: Ring) -> dict[str, Any]:
    known = ring.ruled.welds
    return {
        "clear": welds_named(sent.text("clear"), known),
        "shown": welds_named(sent.text("shown"), known),
        "note": sent.text("note"),
    }


def _taken(sent: Given, ring: Ring) -> dict[str, Any]:
    asked = ring.ruled.acceptance
    return {
        "film": sent.text("film"),
        "welds": welds_named(sent.text("welds"), ring.ruled.welds),
        "technique": asked.technique,
        "technique_class": sent.text("technique_class"),
        "iqi": "W",
        "wire": parse_whole(sent.text("wire"), "finest wire seen"),
        "file": sent.text("file"),
    }


def _read(sent: Given, ring: Ring) -> dict[str, Any]:
    code = sent.text("film")
    film = ring.films.get(code)
    due = waiting_on(ring, film) if film else []
    verdicts = {weld: sent.text(f"verdict.{weld}") for weld in due}
    lacking = [weld for weld, verdict in verdicts.items() if verdict not in (GOOD, BAD)]
    if lacking:
        raise Refused(f"give a verdict on {', '.join(lacking)}")
    return {
        "film": code,
        "accepted": [weld for weld, verdict in verdicts.items() if verdict == GOOD],
        "not_accepted": [weld for weld, verdict in verdicts.items() if verdict == BAD],
        "defects": [one for weld in due for one in _defect(sent, weld)],
    }


def _defect(sent: Given, weld: str) -> list[dict[str, Any]]:
    """What was found in one weld: nothing, or its kind with size and place."""
    kind = sent.text(f"kind.{weld}")
    size, at = sent.text(f"size.{weld}"), sent.text(f"at.{weld}")
    if not kind:
        if size or at:
            raise Refused(f"weld {weld}: say which kind of defect it is")
        return []
    return [
        {
            "weld": weld,
            "kind": kind,
            "size_mm": parse_figure(size, f"weld {weld} size"),
            "at_mm": parse_figure(at, f"weld {weld} place"),
        }
    ]


def _excavated(sent: Given, ring: Ring) -> dict[str, Any]:
    del ring
    depth = parse_figure(sent.text("depth_mm"), "depth")
    return {"weld": sent.text("weld"), "depth_mm": depth, "note": sent.text("note")}


def _proved(sent: Given, ring: Ring) -> dict[str, Any]:
    del ring
    found = sent.text("clear")
    if found not in ("clear", "not clear"):
        raise Refused("say whether the excavation is clear")
    return {
        "weld": sent.text("weld"),
        "method": sent.text("method"),
        "clear": found == "clear",
    }


def _relieved(sent: Given, ring: Ring) -> dict[str, Any]:
    return {
        "welds": welds_named(sent.text("welds"), ring.ruled.welds),
        "run": sent.text("run"),
    }


def _withdrawn(sent: Given, ring: Ring) -> dict[str, Any]:
    del ring
    return {
        "entry": parse_whole(sent.text("entry"), "entry"),
        "reason": sent.text("reason"),
    }


_READERS: Final[dict[str, Callable[[Given, Ring], dict[str, Any]]]] = {
    "vanes-fitted": _fitted,
    "welds-made": _made,
    "weld-redone": _redone,
    "penetrant-read": _penetrant,
    "film-taken": _taken,
    "film-read": _read,
    "weld-excavated": _excavated,
    "excavation-proved": _proved,
    "stress-relieved": _relieved,
    "weld-entry-withdrawn": _withdrawn,
}
