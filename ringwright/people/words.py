"""Roles and permissions, in words to be translated."""

from __future__ import annotations

from typing import Final

from ringwright.core.glossary import N_

ROLE_WORDS: Final[dict[str, str]] = {
    "maker": N_("maker"),
    "inspector": N_("inspector"),
    "supervisor": N_("supervisor"),
    "planner": N_("planner"),
    "manager": N_("manager"),
    "quality-engineer": N_("quality engineer"),
    "design-authority": N_("design-authority delegate"),
    "administrator": N_("administrator"),
}
PERMISSION_WORDS: Final[dict[str, str]] = {
    "read": N_("look at the pages"),
    "own account": N_("change one's own password, PIN and sign-ins"),
    "export": N_("take figures away as a file"),
    "create": N_("create a part"),
    "visit": N_("begin, pause, resume, hand over"),
    "skip a step": N_("skip a step"),
    "measure": N_("enter readings"),
    "pass": N_("pass"),
    "rework": N_("send to rework"),
    "scrap": N_("end a visit in scrap"),
    "repair": N_("record a repair"),
    "concession": N_("record a concession"),
    "hold": N_("hold"),
    "lift a hold": N_("lift a hold"),
    "stop": N_("stop"),
    "sentence": N_("sentence"),
    "send": N_("send"),
    "move": N_("move"),
    "witness": N_("witness a scrapped part made unusable"),
    "correct": N_("correct an entry"),
    "take back": N_("take one's own entry back at once"),
    "genealogy": N_("join, split, mark anew"),
    "shut": N_("shut a station, recipe, lot or step"),
    "open up": N_("open what was shut, where the shutting names them"),
    "prioritise": N_("raise a part's priority"),
    "seek": N_("begin a search for a part"),
    "contain": N_("contain what a suspect touched"),
    "clear": N_("clear a part of a containment"),
    "notice": N_("send a notice"),
    "publish": N_("publish a week"),
    "build sets": N_("build and propose sets"),
    "reserve": N_("reserve and mend a set"),
    "give back": N_("give a set back"),
    "hand over": N_("hand a set over to build"),
    "fit": N_("fit a set's blades, take them out, send the set"),
    "rotor": N_("set what a rotor allows"),
    "authorise": N_("grant and withdraw authorisations"),
    "permit": N_("grant a temporary permission"),
    "review permit": N_("review a temporary permission"),
    "call-out": N_("set the call-out lists"),
    "contacts": N_("keep and erase names and telephone numbers"),
    "ground rules": N_("set ground rules"),
    "load": N_("load files"),
    "accounts": N_("open, shut and change accounts"),
    "devices": N_("let in shared benches and wall screens"),
    "keys": N_("make and end API keys"),
    "audit": N_("read the audit of the doors"),
    "second: repair": N_("second person of a repair"),
    "second: concession": N_("second person of a concession"),
    "second: scrap": N_(
        "second person where a release is taken back or a released part scrapped"
    ),
    "second: correct": N_("second person of a correction that weighs"),
}
